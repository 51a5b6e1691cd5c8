"""A closed vocabulary of values as stored text: each with the name of its kind and the version of its layout."""

from typing import Generic, TypeVar

from msgspec import Struct

from core.records import value_json

P = TypeVar("P")


class EncodedPayload(Struct, frozen=True, kw_only=True):
    """A payload as stored: its kind, the version of its layout, and one line of JSON."""

    kind: str
    version: int
    text: str


class PayloadKinds(Generic[P]):
    """The kinds of one log. A change of meaning gets the next version; an added field with a default does not."""

    def __init__(self, version: int, kinds: dict[str, type[P]]) -> None:
        self._version = version
        self._kinds = kinds
        self._names = {payload_type: name for name, payload_type in kinds.items()}

    def encode(self, payload: P) -> EncodedPayload:
        """The stored form of a payload of this log."""
        text = value_json.dump(value_json.to_json(payload))
        return EncodedPayload(kind=self._names[type(payload)], version=self._version, text=text)

    def knows(self, name: str) -> bool:
        """Whether there is such a kind."""
        return name in self._kinds

    def decode(self, encoded: EncodedPayload) -> P | None:
        """The payload of a stored form, None for a kind or version this software does not know.

        Raises BadInputError when a known kind does not hold what it must.
        """
        payload_type = self._kinds.get(encoded.kind)
        if payload_type is None or encoded.version != self._version:
            return None
        return value_json.from_json(payload_type, value_json.load(encoded.text))

"""A closed vocabulary of dataclasses as stored text: each with the name of its kind and the version of its layout."""

from dataclasses import dataclass
from typing import Generic, TypeVar

from core.records import dataclass_json

P = TypeVar("P")


@dataclass(frozen=True, slots=True, kw_only=True)
class EncodedPayload:
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
        text = dataclass_json.dump(dataclass_json.to_json(payload))
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
        return dataclass_json.from_json(payload_type, dataclass_json.load(encoded.text))

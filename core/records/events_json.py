"""Events to JSON and back: what the archive's rows and the exported session.json hold.

Every payload has a kind and a version. A kind or version this software does not know comes back as Unrecognised with
its text untouched, so that rereading and passing on loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.errors import BadInputError
from core.records import dataclass_json
from core.records.dataclass_json import JsonValue
from core.records.events import (
    Closed,
    Event,
    GaugeChecked,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
    Unrecognised,
)

# A change of meaning gets the next version and a way to read the old one; an added field with a default does not.
VERSION = 1
_KINDS: dict[str, type[Payload]] = {
    "opened": Opened,
    "mark-confirmed": MarkConfirmed,
    "gauge-checked": GaugeChecked,
    "reading-accepted": ReadingAccepted,
    "reading-voided": ReadingVoided,
    "question-answered": QuestionAnswered,
    "note": Note,
    "closed": Closed,
}
_NAMES = {payload_type: name for name, payload_type in _KINDS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class EncodedPayload:
    """A payload as stored: its kind, the version of its layout, and one line of JSON."""

    kind: str
    version: int
    text: str


def encode(payload: Payload) -> EncodedPayload:
    """The stored form of a payload; an Unrecognised one gets back exactly the text it came with."""
    if isinstance(payload, Unrecognised):
        return EncodedPayload(kind=payload.kind, version=payload.version, text=payload.text)
    text = dataclass_json.dump(dataclass_json.to_json(payload))
    return EncodedPayload(kind=_NAMES[type(payload)], version=VERSION, text=text)


def decode(encoded: EncodedPayload) -> Payload:
    """The payload of a stored form; raises BadInputError when a known kind does not hold what it must."""
    payload_type = _KINDS.get(encoded.kind)
    if payload_type is None or encoded.version != VERSION:
        return Unrecognised(kind=encoded.kind, version=encoded.version, text=encoded.text)
    return dataclass_json.from_json(payload_type, dataclass_json.load(encoded.text))


def event_to_json(event: Event) -> JsonValue:
    """One event as it stands in session.json."""
    encoded = encode(event.payload)
    return {
        "sequence": event.sequence,
        "time_utc": dataclass_json.time_text(event.time_utc) if event.time_utc else None,
        "kind": encoded.kind,
        "version": encoded.version,
        "payload": dataclass_json.load(encoded.text),
    }


def event_from_json(data: JsonValue) -> Event:
    """The event of a session.json entry; raises BadInputError."""
    match data:
        case {
            "sequence": int(sequence),
            "time_utc": None | str() as time_utc,
            "kind": str(kind),
            "version": int(version),
            "payload": payload,
        }:
            encoded = EncodedPayload(kind=kind, version=version, text=dataclass_json.dump(payload))
            time = dataclass_json.parse_time(time_utc) if time_utc else None
            return Event(sequence=sequence, time_utc=time, payload=decode(encoded))
    raise BadInputError("an event needs sequence, time_utc, kind, version and payload")

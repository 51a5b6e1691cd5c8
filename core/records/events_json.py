"""Events to JSON and back: what the archive's rows and the exported session.json hold.

Every payload has a kind and a version. A kind or version this software does not know comes back as Unrecognised with
its text untouched, so that rereading and passing on loses nothing.
"""

from core.errors import BadInputError
from core.records import value_json
from core.records.chain import Field
from core.records.events import (
    Closed,
    Damaged,
    Event,
    GaugeChecked,
    Labelled,
    MachineNamed,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
    ReversalFound,
    Undone,
    Unrecognised,
)
from core.records.payload_kinds import EncodedPayload, PayloadKinds
from core.records.value_json import JsonValue
from core.said import Name, said

_KINDS: PayloadKinds[Payload] = PayloadKinds(
    version=1,
    kinds={
        "opened": Opened,
        "machine-named": MachineNamed,
        "labelled": Labelled,
        "mark-confirmed": MarkConfirmed,
        "gauge-checked": GaugeChecked,
        "reading-accepted": ReadingAccepted,
        "reading-voided": ReadingVoided,
        "undone": Undone,
        "question-answered": QuestionAnswered,
        "reversal-found": ReversalFound,
        "note": Note,
        "closed": Closed,
        "damaged": Damaged,
    },
)


def encode(payload: Payload) -> EncodedPayload:
    """The stored form of a payload; an Unrecognised one gets back exactly the text it came with."""
    if isinstance(payload, Unrecognised):
        return EncodedPayload(kind=payload.kind, version=payload.version, text=payload.text)
    return _KINDS.encode(payload)


def is_kind(name: str) -> bool:
    """Whether a session's event can be of this kind, as this software knows them."""
    return _KINDS.knows(name)


def decode(encoded: EncodedPayload) -> Payload:
    """The payload of a stored form; raises BadInputError when a known kind does not hold what it must."""
    payload = _KINDS.decode(encoded)
    return payload or Unrecognised(kind=encoded.kind, version=encoded.version, text=encoded.text)


def link_fields(event: Event) -> tuple[Field, ...]:
    """What the event's checksum covers, as the archive's columns hold it."""
    stored = encoded(event)
    time = value_json.time_text(event.time_utc) if event.time_utc else None
    return event.sequence, time, stored.kind, stored.version, stored.text


def encoded(event: Event) -> EncodedPayload:
    """The stored form of an event's payload: letter for letter the one it came with, if it came from anywhere."""
    return event.written or encode(event.payload)


def event_to_json(event: Event) -> JsonValue:
    """One event as it stands in session.json."""
    stored = encoded(event)
    return {
        "sequence": event.sequence,
        "time_utc": value_json.time_text(event.time_utc) if event.time_utc else None,
        "kind": stored.kind,
        "version": stored.version,
        "payload": value_json.load(stored.text),
        "chain": event.chain,
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
        } if not isinstance(sequence, bool) and not isinstance(version, bool):
            stored = EncodedPayload(kind=kind, version=version, text=value_json.dump(payload))
            time = value_json.parse_time(time_utc) if time_utc else None
            chain = data.get("chain") if isinstance(data, dict) else None
            if chain is not None and not isinstance(chain, str):
                raise BadInputError(said("event {number}: its checksum is no text", number=Name(str(sequence)[:20])))
            return Event(sequence=sequence, time_utc=time, payload=decode(stored), chain=chain, written=stored)
    raise BadInputError(said("an event needs sequence, time_utc, kind, version and payload"))

"""session.json: the whole log of a session, with the judgement derived from it; schema/session.schema.json.

The events are the record, from which another bench takes the session over; the result is for those who only read, and
so are the last checks of the instruments, which may be of earlier sessions.
"""

import json

from core.errors import BadInputError
from core.metrology import Quantity
from core.records import events_json, results_json, value_json
from core.records.events import Event
from core.records.instrument_book import CheckHistory, RecordedCheck
from core.records.session_id import checked_session_id
from core.records.session_record import SessionRecord
from core.said import Name, said

FORMAT = "cornerwise session"
VERSION = 1
# A coupon takes some dozens; what no bench can have written is not worked through.
MAX_EVENTS = 2_000


def session_text(record: SessionRecord) -> str:
    """The file's text."""
    opened = record.session.opened
    data = {
        "format": FORMAT,
        "version": VERSION,
        "session": record.id,
        "simulated": opened.simulated,
        "events": [events_json.event_to_json(event) for event in record.session.log],
        "checks": [_checks(history) for history in record.checks],
        "result": results_json.result(record.evaluation, record.correction, simulated=opened.simulated),
    }
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _checks(history: CheckHistory) -> dict[str, object]:
    moved = history.zero_moved
    return {
        "instrument": history.instrument,
        "last": _check(history.last) if history.last else None,
        "before": _check(history.before) if history.before else None,
        "zero_moved": {"value": moved.value, "U95": moved.U95} if moved else None,
        "drifted": history.drifted,
    }


def _check(recorded: RecordedCheck) -> dict[str, object]:
    zero = recorded.zero
    return {
        "time_utc": value_json.time_text(recorded.time_utc) if recorded.time_utc else None,
        "session": recorded.session,
        "sessions_ago": recorded.sessions_ago,
        "reference": recorded.check.reference,
        "unit": "mm" if recorded.check.quantity is Quantity.LENGTH else "deg",
        "zero": {"value": zero.value, "U95": zero.U95},
    }


def parse_session(text: str) -> tuple[str, tuple[Event, ...]]:
    """Id and events of a session.json; raises BadInputError when it is none."""
    match value_json.load(text):
        case {"format": str(name), "version": int(version), "session": str(session_id), "events": list(entries)}:
            if name != FORMAT or version != VERSION or isinstance(version, bool):
                raise BadInputError(
                    said(
                        "this is {name} version {version}; it must be {wanted} version {wanted_version}",
                        name=Name(repr(name[:40])),
                        version=Name(str(version)),
                        wanted=Name(repr(FORMAT)),
                        wanted_version=VERSION,
                    )
                )
            if len(entries) > MAX_EVENTS:
                raise BadInputError(said("a session of more than {limit} events is not read", limit=MAX_EVENTS))
            return checked_session_id(session_id), tuple(events_json.event_from_json(entry) for entry in entries)
    raise BadInputError(
        said("this is no session.json: {wanted} with session and events is expected", wanted=Name(repr(FORMAT)))
    )

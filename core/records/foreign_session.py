"""A session that another bench wrote: every field of it looked at before anything is stored.

Stage: import. Input: id and events as parsed from session.json. Output: the session, judged anew, or one sentence that
says what is wrong with it. The JSON's own bounds (nesting, size of a number, letters) are those of value_json,
each field's word and range that of its value; here stands what only a whole session shows.
"""

import re
from datetime import UTC, datetime

from msgspec import Struct

from core import SOFTWARE
from core.errors import BadInputError, CornerwiseError
from core.geometry import MAX_SIDE_MM
from core.metrology import Verdict, kept_word, told_word
from core.records import events_json, value_json
from core.records.chain import FIRST, next_link
from core.records.events import (
    Closed,
    Damaged,
    Event,
    Note,
    Opened,
    ReadingAccepted,
    ReadingVoided,
    Unrecognised,
)
from core.records.session import Session
from core.records.session_json import session_text
from core.records.session_record import SessionRecord, record_session
from core.records.value_json import JsonValue
from core.said import NOTHING, Angle, Name, Part, Said, said

# Nothing was measured before there was a program, or will have been long after it; a clock that was not set says null.
_EARLIEST, _LATEST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
_LONGEST_TEXT = 4_000
_KIND = re.compile(r"[a-z][a-z0-9-]{0,39}")
_NEWEST_VERSION = 1_000
# Twice the longest side that a coupon may have, and a full turn: far outside of what is measured, inside of what is
# computed without loss.
_LARGEST_LENGTH_MM, _LARGEST_ANGLE_DEG = 2.0 * MAX_SIDE_MM, 360.0
_LARGEST_NUMBER = 1e9
_SAME_DEG = 1e-6


class ForeignSession(Struct, frozen=True, kw_only=True, eq=False):
    """A session from elsewhere that may be stored; `remark` says where its own word differs from the one judged now."""

    id: str
    events: tuple[Event, ...]
    remark: Said = NOTHING


def check_session(session_id: str, events: tuple[Event, ...]) -> ForeignSession:
    """Look at every event, fold them, judge them anew; raises BadInputError with what is wrong first."""
    for place, event in enumerate(events, start=1):
        _check_event(event, place)
    _check_chain(events)
    session = Session.from_events(events)
    for item in session.readings:
        if not session.opened.coupon.has(item.reading.feature):
            raise BadInputError(said("event {number}: this coupon has no window", number=item.number))
    if session.closed is None:
        raise BadInputError(
            said("session {id} is not closed: close it on its own bench, then take it over", id=Name(session_id))
        )
    return ForeignSession(id=session_id, events=events, remark=_remark(session, _judged(session_id, session)))


def _check_event(event: Event, place: int) -> None:
    number = Name(str(place))
    if event.sequence != place:
        raise BadInputError(said("event {number}: it is not numbered so, one is missing", number=number))
    if event.time_utc is not None and not _EARLIEST <= event.time_utc < _LATEST:
        raise BadInputError(said("event {number}: nothing was measured at that time", number=number))
    match event.payload:
        case Unrecognised(kind=kind, version=version):
            if not _KIND.fullmatch(kind) or not 1 <= version <= _NEWEST_VERSION:
                raise BadInputError(said("event {number}: this is no kind of event", number=number))
        case Damaged():
            raise BadInputError(
                said("event {number} is damaged: such a session is read, not taken over", number=number)
            )
        case ReadingAccepted(reading=reading):
            largest = _LARGEST_LENGTH_MM if reading.feature.is_length else _LARGEST_ANGLE_DEG
            if not abs(reading.value) <= largest:
                raise BadInputError(said("event {number}: no coupon reads so much", number=number))
        case Closed(verdict=verdict, size_verdict=size_verdict):
            if not {verdict, size_verdict} <= {item.value for item in Verdict}:
                raise BadInputError(said("event {number}: this is no verdict", number=number))
    may_break_lines = isinstance(event.payload, Note | ReadingVoided | Unrecognised)
    as_written = value_json.load(events_json.encoded(event).text)
    _check_values(as_written, number, "\n\t" if may_break_lines else "")


def _check_chain(events: tuple[Event, ...]) -> None:
    """Every checksum holds, or there is none at all, as earlier releases wrote it: then nothing may be unknown that
    this very version would know."""
    if all(event.chain is None for event in events):
        opened = events[0].payload if events else None
        if isinstance(opened, Opened) and opened.software == SOFTWARE:
            for event in events:
                if isinstance(event.payload, Unrecognised):
                    raise BadInputError(said("event {number}: this is no kind of event", number=event.sequence))
        return
    before = FIRST
    for event in events:
        if event.chain != next_link(before, events_json.link_fields(event)):
            raise BadInputError(said("event {number}: it is not what was written", number=event.sequence))
        before = event.chain


def _check_values(data: JsonValue, number: Name, allowed: str) -> None:
    """Numbers of this world; letters that can be shown, and no more of them than a person types."""
    match data:
        case float() | int() if not abs(data) <= _LARGEST_NUMBER:
            raise BadInputError(said("event {number}: a number of it is too large", number=number))
        case str():
            if len(data) > _LONGEST_TEXT:
                raise BadInputError(said("event {number}: a text of it is too long", number=number))
            if not all(letter.isprintable() or letter in allowed for letter in data):
                raise BadInputError(said("event {number}: a text of it holds control characters", number=number))
        case list():
            for item in data:
                _check_values(item, number, allowed)
        case dict():
            for name, item in data.items():
                _check_values(name, number, "")
                _check_values(item, number, allowed)


def _judged(session_id: str, session: Session) -> SessionRecord | None:
    """All that the bench will work out from it, worked out once before it is stored; None where no reading counts."""
    if not session.active:
        return None
    try:
        record = record_session(session_id, session)
        session_text(record)
    except (ArithmeticError, LookupError, ValueError) as exc:
        reason: Part = exc.what if isinstance(exc, CornerwiseError) else Name(str(exc))
        raise BadInputError(
            said("session {id} cannot be judged: {reason}", id=Name(session_id), reason=reason)
        ) from exc
    return record


def _remark(session: Session, record: SessionRecord | None) -> Said:
    """Where the same rules give another word than the one that came along; other software may have had others."""
    closed = session.closed
    if closed is None or record is None or closed.software != SOFTWARE:
        return NOTHING
    evaluation = record.evaluation
    now = evaluation.told_skew_deg
    words = (closed.verdict, closed.size_verdict) == (evaluation.verdict.value, evaluation.size_verdict.value)
    if not words or closed.settled not in (None, evaluation.settled):
        return said(
            "It came with the word {stored}; its readings, judged anew by the same rules, give {judged}.",
            stored=kept_word(Verdict(closed.verdict), closed.settled),
            judged=told_word(evaluation),
        )
    if closed.skew_deg is None or now is None or abs(closed.skew_deg - now.value) <= _SAME_DEG:
        return NOTHING
    return said(
        "It came with a skew of {stored}; its readings, judged anew by the same rules, give {judged}.",
        stored=Angle(closed.skew_deg, signed=True),
        judged=Angle(now.value, signed=True),
    )

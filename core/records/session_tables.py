"""Sessions and events in the archive's tables: rows in, values out. Transactions and errors are the Archive's business.

The columns of `session` beside `id` are an index over the events, for lists; the events are the record.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime

from msgspec import Struct
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry import Coupon, Seats
from core.metrology import Verdict, kept_word, lamp_of
from core.records import events_json, value_json
from core.records.chain import Belief, Findings
from core.records.chained_tables import EVENTS, add_entry, examine_log, insert, rows_of
from core.records.events import Closed, Damaged, Event, GaugeChecked, MachineNamed, Opened, QuestionAnswered, Undone
from core.records.instrument_book import name_of
from core.records.payload_kinds import EncodedPayload
from core.records.session import QUESTION_SEATS, SeatsSeen
from core.said import Said


class SessionSummary(Struct, frozen=True, kw_only=True):
    """One line of the list of sessions; verdicts, skew and scales are None until the session is closed.

    `software` is the version that said them, empty until then; `settled` of the verdict is None where it was not kept.
    Scales are fractions: 0.001 is a millimetre too long in a metre.
    """

    id: str
    machine: str
    opened_utc: datetime | None
    coupon: Coupon
    simulated: bool
    closed: bool
    verdict: str | None
    size_verdict: str | None
    skew_deg: float | None
    skew_u95_deg: float | None
    grid: str = ""
    place: str = ""
    scale_x: float | None = None
    scale_x_u95: float | None = None
    scale_y: float | None = None
    scale_y_u95: float | None = None
    software: str = ""
    settled: bool | None = None

    @property
    def word(self) -> Said | None:
        """The word that was said when it was closed, with *not settled* where another reading could have turned it."""
        return None if self.verdict is None else kept_word(Verdict(self.verdict), self.settled)

    @property
    def lamp(self) -> Verdict | None:
        """In whose colour and shape that word is shown."""
        return None if self.verdict is None else lamp_of(Verdict(self.verdict), self.settled)


class SessionFilter(Struct, frozen=True, kw_only=True):
    """Which sessions to list: every one, or those with this verdict, those that a correction was made from, those
    opened at this time or later (which leaves out those without a time)."""

    verdict: str | None = None
    corrected: bool = False
    since_utc: datetime | None = None

    def clauses(self) -> tuple[list[str], list[object]]:
        """Conditions on table `session`, to be joined by AND, and the values for their question marks."""
        clauses: list[str] = []
        values: list[object] = []
        if self.verdict is not None:
            clauses.append("verdict = ?")
            values.append(self.verdict)
        if self.corrected:
            made = " UNION ".join(
                f"SELECT json_extract(payload, '$.session') FROM {log} AS log WHERE kind = 'correction-applied' "
                "AND log.machine = session.machine"
                for log in ("machine_event", "shared_machine_event")
            )
            clauses.append(f"id IN ({made})")
        if self.since_utc is not None:
            clauses.append("opened_utc >= ?")
            values.append(time_text(self.since_utc))
        return clauses, values


ALL_SESSIONS = SessionFilter()
# Columns that bear the names of fields: of a Coupon, of Closed, of GaugeChecked.
_SIZES = ("width_mm", "height_mm", "window_width_mm", "window_height_mm")
_OF_CLOSED = ("verdict", "size_verdict", "skew_deg", "skew_u95_deg", "scale_x", "scale_x_u95", "scale_y",
              "scale_y_u95", "software", "settled")  # fmt: skip
FIGURES_OF_CHECK = ("zero", "zero_sd", "reference", "found", "found_sd")


def insert_event(connection: sqlite3.Connection, session_id: str, event: Event) -> Event:
    """Add one event, and what the lists of sessions and of checks show of it; the same event with its link."""
    index_event(connection, session_id, event)
    return replace(event, chain=add_entry(connection, EVENTS, session_id, events_json.link_fields(event)))


def insert_row(connection: sqlite3.Connection, row: sqlite3.Row) -> None:
    """Take an event over from another archive as it is stored there, with the checksum it has."""
    names = ("session_id", "sequence", "time_utc", "kind", "version", "payload", "chain")
    insert(connection, EVENTS.name, {name: row[name] if name in row.keys() else None for name in names})  # noqa: SIM118


def index_event(connection: sqlite3.Connection, session_id: str, event: Event) -> None:
    """What the lists of sessions and of checks show of an event."""
    match event.payload:
        case Opened() as opened:
            _insert_session(connection, session_id, event.time_utc, opened)
        case MachineNamed(machine=machine):
            connection.execute("UPDATE session SET machine = ? WHERE id = ?", (machine, session_id))
        case Closed() as closed:
            _index_closed(connection, session_id, closed)
        case Undone(number=number):
            _index_undone(connection, session_id, number)
        case GaugeChecked() as check:
            _index_check(connection, session_id, event, check)
        case QuestionAnswered(question=question, answer=answer) if question == QUESTION_SEATS:
            _index_seats(connection, session_id, answer)


def _insert_session(
    connection: sqlite3.Connection, session_id: str, opened_utc: datetime | None, opened: Opened
) -> None:
    row = {"id": session_id, "opened_utc": time_text(opened_utc), **_seats_row(opened.coupon.seats)}
    row |= _columns(opened, ("machine", "simulated", "grid", "place")) | _columns(opened.coupon, _SIZES)
    insert(connection, "session", row)


def _index_seats(connection: sqlite3.Connection, session_id: str, answer: str) -> None:
    """The coupon on the bench had other seats than was chosen."""
    row = connection.execute("SELECT * FROM session WHERE id = ?", (session_id,)).fetchone()
    if row is not None and answer in list(SeatsSeen):
        _update(connection, session_id, _seats_row(SeatsSeen(answer).of(_coupon_of(row))))


def _seats_row(seats: Seats | None) -> dict[str, object]:
    wide_mm, narrow_mm = (seats.nl_fr_mm, seats.nr_fl_mm) if seats is not None else (None, None)
    return {"seat_nl_fr_mm": wide_mm, "seat_nr_fl_mm": narrow_mm}


def _coupon_of(row: sqlite3.Row) -> Coupon:
    wide_mm, narrow_mm = row["seat_nl_fr_mm"], row["seat_nr_fl_mm"]
    seats = None if wide_mm is None or narrow_mm is None else Seats(nl_fr_mm=wide_mm, nr_fl_mm=narrow_mm)
    return Coupon(**{name: row[name] for name in _SIZES}, seats=seats)


def _index_closed(connection: sqlite3.Connection, session_id: str, closed: Closed) -> None:
    _update(connection, session_id, {"closed": 1, **_columns(closed, _OF_CLOSED)})


def _index_undone(connection: sqlite3.Connection, session_id: str, number: int) -> None:
    """A session that was not finished after all is open again; what else is taken back no list shows."""
    finish = "SELECT 1 FROM event WHERE session_id = ? AND sequence = ? AND kind = 'closed'"
    if connection.execute(finish, (session_id, number)).fetchone():
        _update(connection, session_id, {"closed": 0, **dict.fromkeys(_OF_CLOSED)})


def _index_check(connection: sqlite3.Connection, session_id: str, event: Event, check: GaugeChecked) -> None:
    row = {"session_id": session_id, "sequence": event.sequence, "time_utc": time_text(event.time_utc)}
    row |= {"instrument": name_of(check), **_columns(check, ("quantity", *FIGURES_OF_CHECK))}
    insert(connection, "gauge_check", row)


def _columns(value: object, names: Sequence[str]) -> dict[str, object]:
    """The columns that bear the names of a value's fields."""
    return {name: getattr(value, name) for name in names}


def _update(connection: sqlite3.Connection, session_id: str, row: Mapping[str, object]) -> None:
    """Another line for a session in the lists, as far as this names its columns."""
    columns = ", ".join(f"{name} = ?" for name in row)
    connection.execute(f"UPDATE session SET {columns} WHERE id = ?", (*row.values(), session_id))


def mark_taken_over(connection: sqlite3.Connection, session_id: str) -> None:
    """This session was measured at another bench."""
    _update(connection, session_id, {"taken_over": 1})


def list_on_machine(connection: sqlite3.Connection, session_id: str, machine: str) -> None:
    """List this session with a machine of this bench, whatever the bench that measured it calls that machine."""
    connection.execute("UPDATE session SET machine = ? WHERE id = ? AND taken_over = 1", (machine, session_id))


def event_of(row: sqlite3.Row) -> Event:
    """The event of a row of table `event`."""
    encoded = EncodedPayload(kind=row["kind"], version=row["version"], text=row["payload"])
    payload = events_json.decode(encoded)
    chain = row["chain"] if "chain" in row.keys() else None  # noqa: SIM118
    time = time_of(row["time_utc"])
    return Event(sequence=row["sequence"], time_utc=time, payload=payload, chain=chain, written=encoded)


def read_events(connection: sqlite3.Connection, session_id: str) -> tuple[Event, ...]:
    """The events of a session in their order, each held against the chain; Damaged stands for what is not as written,
    and for what is gone."""
    rows = rows_of(connection, EVENTS, session_id)
    return believed_events(rows, examine_log(connection, EVENTS, session_id, rows))


def believed_events(rows: Sequence[sqlite3.Row], found: Findings) -> tuple[Event, ...]:
    """The events of a session's rows as far as they are believed."""
    events = [_believed(row, belief) for row, belief in zip(rows, found.beliefs, strict=True)]
    events += [Event(sequence=number, time_utc=None, payload=Damaged()) for number in found.missing]
    return tuple(sorted(events, key=lambda event: event.sequence))


def _believed(row: sqlite3.Row, belief: Belief) -> Event:
    if belief is not Belief.DAMAGED:
        # What no chain proves may be damaged all the same.
        with suppress(BadInputError, TypeError):
            return event_of(row)
    return Event(sequence=row["sequence"], time_utc=None, payload=Damaged())


def summary_of(row: sqlite3.Row) -> SessionSummary:
    """The summary of a row of table `session`."""
    stored = {name: row[name] for name in ("id", "machine", "grid", "place", *_OF_CLOSED)}
    stored["software"] = row["software"] or ""
    stored["settled"] = None if row["settled"] is None else bool(row["settled"])
    return SessionSummary(
        **stored,
        opened_utc=time_of(row["opened_utc"]),
        coupon=_coupon_of(row),
        simulated=bool(row["simulated"]),
        closed=bool(row["closed"]),
    )


def time_of(text: str | None) -> datetime | None:
    """The time of a time column; None where the clock was not set."""
    return None if text is None else value_json.parse_time(text)


def time_text(time: datetime | None) -> str | None:
    """What a time column holds."""
    return None if time is None else value_json.time_text(time)

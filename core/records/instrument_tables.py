"""Instruments in the archive: what was used under a name, and the index of gauge checks over all sessions.

Rows of `instrument` are never changed: one is added when what is used under a name is not what it was. `gauge_check` is
an index over the events. What a session taken over from another bench tells of its caliper is kept apart: it is another
one. Transactions and errors are the Archive's business.
"""

import sqlite3
from contextlib import suppress
from datetime import datetime

from msgspec import Struct

from core.errors import BadInputError
from core.metrology import Quantity
from core.records.chained_tables import INSTRUMENTS, add_entry, believed_rows, copy_row
from core.records.events import GaugeChecked
from core.records.instrument_book import CheckHistory, InstrumentBook, RecordedCheck, UsedInstrument
from core.records.payload_kinds import EncodedPayload, PayloadKinds
from core.records.session_tables import FIGURES_OF_CHECK, time_of, time_text

TABLE = "instrument"
_KIND = "instrument"
_USED: PayloadKinds[UsedInstrument] = PayloadKinds(version=1, kinds={_KIND: UsedInstrument})

_CHECKS = (
    "SELECT gauge_check.*, (SELECT count(*) FROM session AS later WHERE later.ordinal > own.ordinal "
    "AND later.ordinal <= :until AND later.simulated = own.simulated AND NOT later.taken_over) AS ago "
    "FROM gauge_check JOIN session AS own ON own.id = gauge_check.session_id "
    "WHERE gauge_check.instrument = :instrument AND own.ordinal <= :until AND own.simulated = :simulated "
    "AND CASE WHEN :elsewhere THEN own.ordinal = :until ELSE NOT own.taken_over END "
    "ORDER BY gauge_check.ordinal DESC LIMIT 2"
)

# From one name to the next by the index, and not by every check of ten years.
_CHECKED_HERE = (
    "WITH RECURSIVE checked (instrument) AS (SELECT min(instrument) FROM gauge_check UNION ALL "
    "SELECT (SELECT min(instrument) FROM gauge_check WHERE instrument > checked.instrument) FROM checked "
    "WHERE checked.instrument IS NOT NULL) SELECT instrument FROM checked WHERE instrument IS NOT NULL AND EXISTS "
    "(SELECT 1 FROM gauge_check JOIN session ON session.id = session_id "
    "WHERE gauge_check.instrument = checked.instrument AND simulated = ? AND NOT taken_over)"
)


class _From(Struct, frozen=True, kw_only=True):
    """Where checks are looked at from: a session by its ordinal, or (`ahead` 1) the one that will follow it."""

    until: int
    simulated: bool
    elsewhere: bool = False
    ahead: int = 0


def insert_used(connection: sqlite3.Connection, now: datetime | None, used: UsedInstrument) -> None:
    """Add what is used under a name, unless the newest of that name says the same."""
    if used in _newest(connection, simulated=used.simulated):
        return
    encoded = _USED.encode(used)
    fields = (used.name, used.simulated, time_text(now), encoded.version, encoded.text)
    add_entry(connection, INSTRUMENTS, "", fields)


def book(connection: sqlite3.Connection, now: datetime | None, *, simulated: bool, on_bench: bool) -> InstrumentBook:
    """Every instrument on record and its checks, looked at from the newest session, or where none is on the bench from
    the one that comes next. Simulated ones are kept apart."""
    used = _newest(connection, simulated=simulated)
    checked = connection.execute(_CHECKED_HERE, (simulated,))
    names = sorted({*(one.name for one in used), *(row["instrument"] for row in checked)})
    until = connection.execute("SELECT max(ordinal) FROM session").fetchone()[0] or 0
    here = _From(until=until, simulated=simulated, ahead=0 if on_bench else 1)
    histories = (_history(connection, name, here) for name in names)
    return InstrumentBook(used=used, checks=tuple(histories), read_utc=now)


def checks_up_to(
    connection: sqlite3.Connection, session_id: str, instruments: tuple[str, ...]
) -> tuple[CheckHistory, ...]:
    """The last checks of these instruments as they were known when this session ended."""
    row = connection.execute("SELECT * FROM session WHERE id = ?", (session_id,)).fetchone()
    there = _From(until=row["ordinal"], simulated=bool(row["simulated"]), elsewhere=bool(row["taken_over"]))
    return tuple(_history(connection, name, there) for name in instruments)


def copy_instrument(connection: sqlite3.Connection, row: sqlite3.Row) -> None:
    """Take over a row of a damaged archive, where it is one: with the first page lost it may belong elsewhere."""
    with suppress(BadInputError, IndexError, TypeError):
        used = _decoded(row)
        if used is not None and used.name == row["name"]:
            copy_row(connection, TABLE, row)


def _history(connection: sqlite3.Connection, instrument: str, seen: _From) -> CheckHistory:
    values = {
        "instrument": instrument,
        "until": seen.until,
        "simulated": seen.simulated,
        "elsewhere": seen.elsewhere,
    }
    checks = [_recorded(row, seen.ahead) for row in connection.execute(_CHECKS, values)]
    last, before, *_ = (*checks, None, None)
    return CheckHistory(instrument=instrument, last=last, before=before)


def _recorded(row: sqlite3.Row, ahead: int) -> RecordedCheck:
    check = GaugeChecked(
        instrument=row["instrument"],
        quantity=Quantity(row["quantity"]),
        **{name: row[name] for name in FIGURES_OF_CHECK},
    )
    time_utc = time_of(row["time_utc"])
    return RecordedCheck(check=check, time_utc=time_utc, session=row["session_id"], sessions_ago=row["ago"] + ahead)


def _newest(connection: sqlite3.Connection, *, simulated: bool) -> tuple[UsedInstrument, ...]:
    newest = {row["name"]: row for row in believed_rows(connection, INSTRUMENTS, "") if row["simulated"] == simulated}
    decoded = (_decoded(newest[name]) for name in sorted(newest))
    return tuple(used for used in decoded if used is not None)


def _decoded(row: sqlite3.Row) -> UsedInstrument | None:
    return _USED.decode(EncodedPayload(kind=_KIND, version=row["version"], text=row["payload"]))

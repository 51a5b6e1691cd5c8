"""What can be read of an archive that is not opened as it is, row by row: a damaged one, or one of newer software.

Input: the file; it is only read. Output: the sessions as far as their events are whole, and the machines' and
instruments' rows, put into another archive. An event that is missing or damaged keeps its number, so that a void of it
is understood. Where the first page is lost, which says what lies where, that of an empty
archive takes its place in a copy: the same migrations have put the tables at the same places. Source: SQLite database
file format, 1.3.
"""

from __future__ import annotations

import math
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from core.errors import BadInputError
from core.records import instrument_tables, machine_tables
from core.records.archive_file import connect, read_text
from core.records.chain import Head, examine
from core.records.chained_tables import EVENTS, chain_what_has_none, head_of, links_of
from core.records.events import Damaged
from core.records.session import Session
from core.records.session_tables import believed_events, index_event, insert_row, mark_taken_over

# Where not even the highest row number can be read: as many missing in a row, and the table counts as ended.
_LONGEST_GAP = 2_000
# Where it can: so many rows do not lie on damaged pages together, but a bit may be flipped in the highest number.
_LONGEST_LOSS = 100_000
_PAGE_BYTES = 4096


@contextmanager
def opened_damaged(damaged: Path) -> Iterator[sqlite3.Connection]:
    """The damaged file, or a copy with a new first page, open for reading; nothing is left beside it."""
    with closing(_reader(damaged)) as source:
        if _one(source, "SELECT name FROM sqlite_schema WHERE name = ?", "event") is not None:
            yield source
            return
    with tempfile.TemporaryDirectory(dir=damaged.parent) as folder:
        copy = Path(folder) / "copy.sqlite"
        shutil.copyfile(damaged, copy)
        _replace_first_page(copy, _empty_first_page(Path(folder) / "empty.sqlite"))
        with closing(_reader(copy)) as source:
            yield source


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """How many sessions could be read, how many could not be understood, and how many events of the former are lost."""

    kept: int
    left: int
    lost: int


def copy_records(source: sqlite3.Connection, into: sqlite3.Connection) -> Recovered:
    """Put what can be read into an empty archive, each row with the checksum it has: what was damaged stays so.

    `into` is in a transaction of the caller's.
    """
    kept = left = lost = 0
    for session_id, rows in readable_events(source, columns_of(into, EVENTS.name)).items():
        found = examine(links_of(EVENTS, rows), _head(source, session_id))
        events = believed_events(rows, found)
        try:
            Session.from_events(events)
        except BadInputError:
            left += 1
            continue
        kept += 1
        lost += sum(isinstance(event.payload, Damaged) for event in events)
        for event in events:
            if not isinstance(event.payload, Damaged):
                index_event(into, session_id, event)
        for row in rows:
            insert_row(into, row)
        if _taken_over(source, session_id):
            mark_taken_over(into, session_id)
    for table in machine_tables.TABLES:
        for row in readable_rows(source, table, columns_of(into, table)):
            machine_tables.copy_row(into, table, row)
    table = instrument_tables.TABLE
    for row in readable_rows(source, table, columns_of(into, table)):
        instrument_tables.copy_row(into, row)
    chain_what_has_none(into)
    return Recovered(kept=kept, left=left, lost=lost)


def _head(source: sqlite3.Connection, session_id: str) -> Head | None:
    """The end of a session's log, where it can still be read."""
    try:
        return head_of(source, EVENTS, session_id)
    except sqlite3.DatabaseError:
        return None


def _taken_over(source: sqlite3.Connection, session_id: str) -> bool:
    row = _one(source, "SELECT taken_over FROM session WHERE id = ?", session_id)
    return row is not None and bool(row["taken_over"])


def columns_of(connection: sqlite3.Connection, table: str) -> list[str]:
    """The names of a table's columns in their order."""
    return [row["name"] for row in connection.execute(f"PRAGMA table_info({table})")]


def readable_events(source: sqlite3.Connection, columns: Sequence[str]) -> dict[str, list[sqlite3.Row]]:
    """Rows of table `event` by session id, sessions in the order they began, each in the order of its numbers."""
    sessions: dict[str, dict[int, sqlite3.Row]] = {}
    for row in readable_rows(source, "event", columns):
        if isinstance(row["session_id"], str) and isinstance(row["sequence"], int):
            sessions.setdefault(row["session_id"], {}).setdefault(row["sequence"], row)
    return {session_id: [rows[number] for number in sorted(rows)] for session_id, rows in sessions.items()}


def readable_rows(source: sqlite3.Connection, table: str, columns: Sequence[str]) -> Iterator[sqlite3.Row]:
    """Every row that can be reached by its row number; none where not even the schema can be read.

    Columns are known by their place, for a bit may be flipped in a name: later software has only added some behind.
    """
    try:
        there = len(source.execute(f"SELECT * FROM {table} LIMIT 0").description)
    except sqlite3.DatabaseError:
        return
    shared = columns[:there]
    names = ", ".join([*shared, *(f"later_{place}" for place in range(there - len(shared)))])
    statement = f"WITH row ({names}) AS (SELECT * FROM {table} WHERE rowid = ?) SELECT {', '.join(shared)} FROM row"
    highest = _one(source, "SELECT seq FROM sqlite_sequence WHERE name = ?", table)
    missing = ordinal = 0
    last, gap = (highest["seq"], _LONGEST_LOSS) if highest else (math.inf, _LONGEST_GAP)
    while ordinal < last and missing < gap:
        ordinal += 1
        row = _one(source, statement, ordinal)
        missing = missing + 1 if row is None else 0
        if row is not None:
            yield row


def _reader(path: Path) -> sqlite3.Connection:
    """Without a write-ahead log the file is opened so that nothing is written beside it either."""
    wal = path.with_name(path.name + "-wal")
    how = "mode=ro" if wal.exists() and wal.stat().st_size else "mode=ro&immutable=1"
    source = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, isolation_level=None)
    source.row_factory = sqlite3.Row
    source.text_factory = read_text
    return source


def _empty_first_page(path: Path) -> bytes:
    connect(path).close()
    return path.read_bytes()[:_PAGE_BYTES]


def _replace_first_page(path: Path, first: bytes) -> None:
    page = bytearray(first)
    page[18:20] = b"\x01\x01"  # no write-ahead log belongs to it
    page[28:32] = (path.stat().st_size // _PAGE_BYTES).to_bytes(4, "big")  # size in pages
    page[92:96] = page[24:28]  # the size is valid for this change counter
    with path.open("r+b") as file:
        file.write(page)


def _one(source: sqlite3.Connection, statement: str, value: str | int) -> sqlite3.Row | None:
    try:
        row: sqlite3.Row | None = source.execute(statement, (value,)).fetchone()
    except sqlite3.DatabaseError:
        return None
    return row

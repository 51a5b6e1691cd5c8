"""What can be read of an archive that is not opened as it is, row by row: a damaged one, or one of newer software.

Input: the file; it is only read. Output: the sessions as far as their events are whole, and the machines' and
instruments' rows, put into another archive. A session's events are taken up to the first that is missing: what follows
a gap could be a void without its reading. Where the first page is lost, which says what lies where, that of an empty
archive takes its place in a copy: the same migrations have put the tables at the same places. Source: SQLite database
file format, 1.3.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from core.errors import BadInputError
from core.records import instrument_tables, machine_tables
from core.records.archive_file import connect
from core.records.session import Session
from core.records.session_tables import event_of, insert_event

# Where not even the highest row number can be read: as many missing in a row, and the table counts as ended.
_LONGEST_GAP = 2_000
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


def copy_records(source: sqlite3.Connection, into: sqlite3.Connection) -> tuple[int, int]:
    """Put what can be read into an empty archive; how many sessions are there then, and how many are not understood.

    `into` is in a transaction of the caller's.
    """
    kept = left = 0
    for session_id, rows in readable_events(source).items():
        try:
            events = tuple(event_of(row) for row in rows)
            Session.from_events(events)
            for event in events:
                insert_event(into, session_id, event)
            kept += 1
        except BadInputError:
            left += 1
    for table in machine_tables.TABLES:
        for row in readable_rows(source, table, _shared_columns(source, into, table)):
            machine_tables.copy_row(into, table, row)
    table = instrument_tables.TABLE
    for row in readable_rows(source, table, _shared_columns(source, into, table)):
        instrument_tables.copy_row(into, row)
    return kept, left


def _shared_columns(source: sqlite3.Connection, into: sqlite3.Connection, table: str) -> str:
    """What both have: newer software may have added columns. All of them where the source cannot even say."""
    known = [row["name"] for row in into.execute(f"PRAGMA table_info({table})")]
    try:
        there = {row["name"] for row in source.execute(f"PRAGMA table_info({table})")}
    except sqlite3.DatabaseError:
        there = set()
    return ", ".join(name for name in known if name in there) or "*"


def readable_events(source: sqlite3.Connection) -> dict[str, list[sqlite3.Row]]:
    """Rows of table `event` by session id, sessions in the order they began, each without gaps from sequence 1."""
    sessions: dict[str, list[sqlite3.Row]] = {}
    for row in readable_rows(source, "event"):
        events = sessions.setdefault(row["session_id"], [])
        if row["sequence"] == len(events) + 1:
            events.append(row)
    return {session_id: events for session_id, events in sessions.items() if events}


def readable_rows(source: sqlite3.Connection, table: str, columns: str = "*") -> Iterator[sqlite3.Row]:
    """Every row that can be reached by its row number; none where not even the schema can be read."""
    highest = _one(source, "SELECT seq FROM sqlite_sequence WHERE name = ?", table)
    missing = ordinal = 0
    while ordinal < highest["seq"] if highest else missing < _LONGEST_GAP:
        ordinal += 1
        row = _one(source, f"SELECT {columns} FROM {table} WHERE ordinal = ?", ordinal)
        missing = missing + 1 if row is None else 0
        if row is not None:
            yield row


def _reader(path: Path) -> sqlite3.Connection:
    """Without a write-ahead log the file is opened so that nothing is written beside it either."""
    wal = path.with_name(path.name + "-wal")
    how = "mode=ro" if wal.exists() and wal.stat().st_size else "mode=ro&immutable=1"
    source = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, isolation_level=None)
    source.row_factory = sqlite3.Row
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

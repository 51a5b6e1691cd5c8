"""What can be read of an archive that is not opened as it is, row by row: a damaged one, or one of newer software.

Input: the file; it is only read. Output: the sessions as far as their events are whole, and the machines' and
instruments' rows, put into another archive. An event that is missing or damaged keeps its number, so that a void of it
is understood. Where the first page is lost, which says what lies where, that of an empty
archive takes its place in a copy: the same migrations have put the tables at the same places. What no tree leads to any
more is read from the pages themselves (leaf_pages.py), and the chain says whether it is what was written. A session
whose opening is lost keeps its place in the list, from the line that stood there. Source: SQLite database file format,
1.3.
"""

import math
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError
from core.records import events_json, instrument_tables, machine_tables, migrations, shop_records
from core.records.archive_file import connect
from core.records.chain import Head, examine
from core.records.chained_tables import EVENTS, chain_what_has_none, copy_row, head_of, insert, links_of, put_head
from core.records.events import Damaged, Event
from core.records.leaf_pages import PAGE_BYTES, Value, stray_rows
from core.records.session import Session
from core.records.session_id import is_session_id
from core.records.session_tables import believed_events, index_event, insert_row, mark_taken_over

# A bit flipped in a column's name makes of it what Python's sqlite3 cannot decode.
_UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)
# Where not even the highest row number can be read: as many missing in a row, and the table counts as ended.
_LONGEST_GAP = 2_000
# Where it can: so many rows do not lie on damaged pages together, but a bit may be flipped in the highest number.
_LONGEST_LOSS = 100_000
_TABLES = (EVENTS.name, "session", *machine_tables.TABLES, instrument_tables.TABLE)


@contextmanager
def opened_damaged(damaged: Path) -> Iterator[tuple[sqlite3.Connection, sqlite3.Connection]]:
    """The damaged file, or a copy with a new first page, open for reading, and beside it the rows that stand on its
    pages but cannot be reached in it; nothing is left beside the file."""
    with _reachable(damaged) as source, closing(_strays(damaged, source)) as strays:
        yield source, strays


@contextmanager
def _reachable(damaged: Path) -> Iterator[sqlite3.Connection]:
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


class Recovered(Struct, frozen=True, kw_only=True):
    """How many sessions could be read, how many could not be understood, and how many events of the former are lost."""

    kept: int
    left: int
    lost: int


def copy_records(
    source: sqlite3.Connection, into: sqlite3.Connection, strays: sqlite3.Connection | None = None
) -> Recovered:
    """Put what can be read into an empty archive, each row with the checksum it has: what was damaged stays so.

    `strays`, where the file is damaged: what can be reached on its pages only. `into` is in the caller's transaction.
    """
    sources = (source,) if strays is None else (source, strays)
    kept = left = lost = 0
    cut_short: dict[str, Head] = {}
    for session_id, rows in readable_events(sources, columns_of(into, EVENTS.name)).items():
        head = _head(source, session_id)
        found = examine(links_of(EVENTS, rows), head)
        events = believed_events(rows, found)
        listed = _listed(sources, session_id)
        # Later software's file stays whole beside: what is not understood of it is not taken over in part.
        if not _put_session(into, session_id, events, listed if strays is not None else None):
            left += 1
            continue
        kept += 1
        lost += sum(isinstance(event.payload, Damaged) for event in events)
        for row in rows:
            insert_row(into, row)
        if head is not None and head.entries in found.missing:
            cut_short[session_id] = head
        if listed is not None and listed["taken_over"]:
            mark_taken_over(into, session_id)
    for table in machine_tables.TABLES:
        for row in _rows(sources, table, columns_of(into, table)):
            copy_row(into, table, row)
    table = instrument_tables.TABLE
    for row in _rows(sources, table, columns_of(into, table)):
        instrument_tables.copy_instrument(into, row)
    for table in shop_records.TABLES:
        for row in _whole_rows(source, table, columns_of(into, table)):
            copy_row(into, table, row, where_it_can=True)
    chain_what_has_none(into)
    # A log that lost its end keeps the head it had: it is not taken for one that ended there.
    for session_id, head in cut_short.items():
        put_head(into, EVENTS, session_id, head)
    return Recovered(kept=kept, left=left, lost=lost)


def _whole_rows(source: sqlite3.Connection, table: str, columns: Sequence[str]) -> list[sqlite3.Row]:
    """The rows of a table that has no row numbers, as far as it can be read from its beginning: what is missing of the
    shop's is said or sent again."""
    rows: list[sqlite3.Row] = []
    with suppress(*_UNREADABLE):
        shared = [name for name in columns if name in columns_of(source, table)]
        rows.extend(source.execute(f"SELECT {', '.join(shared)} FROM {table}"))
    return rows


def _put_session(
    into: sqlite3.Connection, session_id: str, events: Sequence[Event], listed: sqlite3.Row | None
) -> bool:
    """The session into the lists; False where nothing can be made of its events."""
    if not isinstance(events[0].payload, Damaged):
        try:
            Session.from_events(events)
        except BadInputError:
            return False
    elif listed is None:
        return False
    else:
        known = set(columns_of(into, "session")) - {"ordinal"}
        insert(into, "session", {name: value for name, value in dict(listed).items() if name in known})
    for event in events:
        if not isinstance(event.payload, Damaged):
            index_event(into, session_id, event)
    return True


def _strays(damaged: Path, source: sqlite3.Connection) -> sqlite3.Connection:
    """The rows that stand on the file's pages and are not found by their number, in tables of their own."""
    strays = migrations.opened()
    migrations.migrate(strays)
    columns = {table: columns_of(strays, table) for table in _TABLES}
    strays.execute("BEGIN")
    for number, values in stray_rows(damaged):
        table = _table_of(values)
        if table is None or len(values) > len(columns[table]):
            continue
        if _one(source, f"SELECT * FROM {table} WHERE rowid = ?", number) is not None:
            continue
        # A page that was given up holds rows as they once were: without a checksum, of a session not yet closed.
        newer = values[_CLOSED] if table == "session" else values[-1] is not None
        with suppress(sqlite3.IntegrityError):
            how = "REPLACE" if newer else "IGNORE"
            row = dict(zip(columns[table], (number, *values[1:]), strict=False))
            insert(strays, table, row, f"INSERT OR {how}")
    strays.execute("COMMIT")
    return strays


# Where the column `closed` stands in a row of `session`, whatever was added behind.
_CLOSED = 9
# A row's shape, by the letters of its values behind the row number (T text, N number, - nothing, ? text or nothing).
_SHAPES = (
    ("session", "TT?NN"),
    ("entry", "TN?TNT"),
    ("instrument", "TN?NT"),
    ("machine_profile", "T?NT"),
)
_LONGEST_SHAPES = {"session": 32, "entry": 8, "instrument": 7, "machine_profile": 6}


def _table_of(values: Sequence[Value]) -> str | None:
    """Whose row it is: the first column of all our tables is the row number, which a record leaves empty."""
    if not values or values[0] is not None:
        return None
    for name, shape in _SHAPES:
        if len(shape) < len(values) <= _LONGEST_SHAPES[name] and all(map(_fits, values[1:], shape)):
            return _log_of(values) if name == "entry" else name
    return None


def _fits(value: Value, letter: str) -> bool:
    if letter == "N":
        return isinstance(value, int | float)
    return isinstance(value, str) or (letter == "?" and value is None)


def _log_of(values: Sequence[Value]) -> str:
    """Events of sessions and lines of machines' logs have the same columns: the kind tells them apart, or the name."""
    if is_session_id(str(values[1])) or events_json.is_kind(str(values[4])):
        return EVENTS.name
    return "machine_event"


def _head(source: sqlite3.Connection, session_id: str) -> Head | None:
    """The end of a session's log, where it can still be read."""
    try:
        return head_of(source, EVENTS, session_id)
    except _UNREADABLE:
        return None


def _listed(sources: Sequence[sqlite3.Connection], session_id: str) -> sqlite3.Row | None:
    """The session's line in the lists; by its index, and where that is damaged without it."""
    for source in sources:
        for how in ("", "NOT INDEXED "):
            row = _one(source, f"SELECT * FROM session {how}WHERE id = ?", session_id)
            if row is not None and "taken_over" in row.keys():  # noqa: SIM118
                return row
    return None


def columns_of(connection: sqlite3.Connection, table: str) -> list[str]:
    """The names of a table's columns in their order."""
    return [row["name"] for row in connection.execute(f"PRAGMA table_info({table})")]


def readable_events(sources: Sequence[sqlite3.Connection], columns: Sequence[str]) -> dict[str, list[sqlite3.Row]]:
    """Rows of table `event` by session id, sessions in the order they began, each in the order of its numbers."""
    sessions: dict[str, dict[int, sqlite3.Row]] = {}
    for row in _rows(sources, EVENTS.name, columns):
        if isinstance(row["session_id"], str) and isinstance(row["sequence"], int):
            sessions.setdefault(row["session_id"], {}).setdefault(row["sequence"], row)
    begun = sorted(sessions.items(), key=lambda item: min(row["ordinal"] for row in item[1].values()))
    return {session_id: [rows[number] for number in sorted(rows)] for session_id, rows in begun}


def _rows(sources: Sequence[sqlite3.Connection], table: str, columns: Sequence[str]) -> Iterator[sqlite3.Row]:
    """What can be reached in the file, then what stood on its pages only."""
    first, *others = sources
    yield from readable_rows(first, table, columns)
    for strays in others:
        yield from strays.execute(f"SELECT * FROM {table} ORDER BY ordinal")


def readable_rows(source: sqlite3.Connection, table: str, columns: Sequence[str]) -> Iterator[sqlite3.Row]:
    """Every row that can be reached by its row number; none where not even the schema can be read.

    Columns are known by their place, for a bit may be flipped in a name: later software has only added some behind.
    """
    try:
        there = len(source.execute(f"SELECT * FROM {table} LIMIT 0").description)
    except _UNREADABLE:
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
    return migrations.opened(path, how)


def _empty_first_page(path: Path) -> bytes:
    connect(path).close()
    return path.read_bytes()[:PAGE_BYTES]


def _replace_first_page(path: Path, first: bytes) -> None:
    page = bytearray(first)
    page[18:20] = b"\x01\x01"  # no write-ahead log belongs to it
    page[28:32] = (path.stat().st_size // PAGE_BYTES).to_bytes(4, "big")  # size in pages
    page[92:96] = page[24:28]  # the size is valid for this change counter
    with path.open("r+b") as file:
        file.write(page)


def _one(source: sqlite3.Connection, statement: str, value: str | int) -> sqlite3.Row | None:
    try:
        row: sqlite3.Row | None = source.execute(statement, (value,)).fetchone()
    except _UNREADABLE:
        return None
    return row

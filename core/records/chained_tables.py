"""The chain of checksums in the archive's tables: one chain a session, one a machine's log, one over all profiles and
one over all instruments. Transactions and errors are the Archive's business.

The head of every chain lies in a table of its own, so that the loss of the newest entries shows as well.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from msgspec import Struct

from core.records.chain import FIRST, Belief, Field, Findings, Head, Link, examine, next_link


class ChainedTable(Struct, frozen=True, kw_only=True):
    """A table whose rows are logs: `log` is the column that names a row's log, empty where all rows are one; `number`
    the column they are in order of; `fields` those that a link covers."""

    name: str
    log: str
    number: str
    fields: tuple[str, ...]

    @property
    def log_of_row(self) -> str:
        """The SQL for a row's log."""
        return self.log or "''"


_ENTRY = ("sequence", "time_utc", "kind", "version", "payload")
EVENTS = ChainedTable(name="event", log="session_id", number="sequence", fields=_ENTRY)
MACHINE_EVENTS = ChainedTable(name="machine_event", log="machine", number="sequence", fields=_ENTRY)
PROFILES = ChainedTable(
    name="machine_profile", log="", number="ordinal", fields=("machine", "time_utc", "version", "payload")
)
INSTRUMENTS = ChainedTable(
    name="instrument", log="", number="ordinal", fields=("name", "simulated", "time_utc", "version", "payload")
)
# A few hundred coupons: far more than the card still owes after a stop.
_NEWEST_ENTRIES, _NEWEST_LOGS = 5000, 500
CHAINED = (EVENTS, MACHINE_EVENTS, PROFILES, INSTRUMENTS)
BY_NAME = {table.name: table for table in CHAINED}


def copy_row(connection: sqlite3.Connection, table: str, row: sqlite3.Row, *, where_it_can: bool = False) -> None:
    """Take over a row of another archive as it stands; `where_it_can` be one of this."""
    insert(connection, table, dict(row), "INSERT OR IGNORE" if where_it_can else "INSERT")


def insert(connection: sqlite3.Connection, table: str, row: Mapping[str, object], how: str = "INSERT") -> None:
    """Add a row, its values by the names of their columns."""
    marks = ", ".join("?" * len(row))
    connection.execute(f"{how} INTO {table} ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))


def add_entry(connection: sqlite3.Connection, table: ChainedTable, log: str, fields: Sequence[Field]) -> str:
    """Add an entry to a log, which is its new head from now on; its link."""
    head = head_of(connection, table, log) or Head(entries=0, chain=FIRST)
    link = next_link(head.chain, fields)
    number = fields[0] if table.number == "sequence" else head.entries + 1
    assert isinstance(number, int)
    put_head(connection, table, log, Head(entries=number, chain=link))
    whose = {table.log: log} if table.log else {}
    insert(connection, table.name, {**whose, **dict(zip(table.fields, fields, strict=True)), "chain": link})
    return link


def next_number(connection: sqlite3.Connection, table: ChainedTable, log: str) -> int:
    """The number of the entry that is added next: one that is gone keeps its own."""
    row = connection.execute(
        f"SELECT {table.number} AS number, chain FROM {table.name} WHERE {table.log} = ? "
        f"ORDER BY {table.number} DESC LIMIT 1",
        (log,),
    ).fetchone()
    head = head_of(connection, table, log)
    last = int(row["number"]) if row else 0
    if head is not None and (row is None or row["chain"] != head.chain):
        last = max(last, head.entries)
    return last + 1


def head_of(connection: sqlite3.Connection, table: ChainedTable, log: str) -> Head | None:
    """The end of a log as it is kept apart; None where it is not."""
    row = connection.execute(
        "SELECT entries, chain FROM log_head WHERE kind = ? AND log = ?", (table.name, log)
    ).fetchone()
    if row is None or not isinstance(row["entries"], int) or not isinstance(row["chain"], str):
        return None
    return Head(entries=row["entries"], chain=row["chain"])


def rows_of(connection: sqlite3.Connection, table: ChainedTable, log: str) -> list[sqlite3.Row]:
    """The rows of one log in their order."""
    which = f"WHERE {table.log} = ?" if table.log else "WHERE ? = ''"
    statement = f"SELECT * FROM {table.name} {which} ORDER BY {table.number}"
    return connection.execute(statement, (log,)).fetchall()


def examine_log(connection: sqlite3.Connection, table: ChainedTable, log: str, rows: Sequence[sqlite3.Row]) -> Findings:
    """Hold the rows of one log, in their order, against its chain."""
    return examine(links_of(table, rows), head_of(connection, table, log))


def believed_rows(connection: sqlite3.Connection, table: ChainedTable, log: str) -> list[sqlite3.Row]:
    """The rows of one log in their order, without those that are not what was written."""
    rows = rows_of(connection, table, log)
    beliefs = examine_log(connection, table, log, rows).beliefs
    return [row for row, belief in zip(rows, beliefs, strict=True) if belief is not Belief.DAMAGED]


def logs(connection: sqlite3.Connection, table: ChainedTable) -> Iterator[str]:
    """Every log of a table, also one of which only rows or only the head are left."""
    statement = f"SELECT log FROM log_head WHERE kind = ? UNION SELECT DISTINCT {table.log_of_row} FROM {table.name}"
    for row in connection.execute(statement, (table.name,)).fetchall():
        yield str(row[0])


def loose_ends(connection: sqlite3.Connection, table: ChainedTable) -> list[str]:
    """The logs whose last entry is not the one that the head tells of, among those that were written to last: what a
    stop or a lost write has hit. To look at the end of every log is to read the file from one end to the other."""
    last = f"SELECT chain FROM {table.name} WHERE {table.log} = head.log ORDER BY {table.number} DESC LIMIT 1"
    # Of a log whose entries are all gone only the head is left; a session's name begins with its time.
    rows = connection.execute(
        f"WITH written (log) AS (SELECT {table.log} FROM (SELECT {table.log} FROM {table.name} ORDER BY ordinal DESC "
        "LIMIT :entries) UNION SELECT log FROM (SELECT log FROM log_head WHERE kind = :kind ORDER BY log DESC "
        "LIMIT :logs)) SELECT head.log FROM written CROSS JOIN log_head AS head "
        f"ON head.kind = :kind AND head.log = written.log WHERE head.chain IS NOT ({last})",
        {"kind": table.name, "entries": _NEWEST_ENTRIES, "logs": _NEWEST_LOGS},
    ).fetchall()
    return [str(row[0]) for row in rows]


def chain_what_has_none(connection: sqlite3.Connection) -> None:
    """Give links to logs written by software that knew no chain, and every log the head that its entries have.

    Once: an entry that has a link keeps it, whatever it says, and one without among such stays unproven.
    """
    for table in CHAINED:
        columns = ", ".join(dict.fromkeys((table.number, *table.fields)))
        # Read whole, for the same table is written to: a row is a few hundred bytes.
        rows = connection.execute(
            f"SELECT ordinal, {table.log_of_row} AS log, chain, {columns} FROM {table.name} "
            f"ORDER BY {table.log_of_row}, {table.number}"
        ).fetchall()
        for log, entries in groupby(rows, key=lambda row: str(row["log"])):
            _chain_log(connection, table, log, list(entries))


def _chain_log(connection: sqlite3.Connection, table: ChainedTable, log: str, rows: Sequence[sqlite3.Row]) -> None:
    last, unproven = FIRST, 0
    numbers = [link.number for link in links_of(table, rows)]
    if any(row["chain"] is not None for row in rows):
        last = [row["chain"] for row in rows if row["chain"] is not None][-1]
    else:
        unproven = numbers[-1]
        for row in rows:
            last = next_link(last, _fields(table, row))
            connection.execute(f"UPDATE {table.name} SET chain = ? WHERE ordinal = ?", (last, row["ordinal"]))
    put_head(connection, table, log, Head(entries=numbers[-1], chain=last), unproven)


def put_head(connection: sqlite3.Connection, table: ChainedTable, log: str, head: Head, unproven: int = 0) -> None:
    """Keep the end of a log; `unproven` is the last entry of it that got its link afterwards."""
    connection.execute(
        "INSERT INTO log_head (kind, log, entries, chain, unproven) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (kind, log) DO UPDATE SET entries = excluded.entries, chain = excluded.chain, "
        "unproven = max(unproven, excluded.unproven)",
        (table.name, log, head.entries, head.chain, unproven),
    )


def links_of(table: ChainedTable, rows: Sequence[sqlite3.Row]) -> list[Link]:
    """The rows of one log, in their order, as links of its chain."""
    # Where the order is that of the rows, an entry's number is its place among them. Earlier software had no chain.
    numbers = [row["sequence"] for row in rows] if table.number == "sequence" else range(1, len(rows) + 1)
    chained = bool(rows) and "chain" in rows[0].keys()  # noqa: SIM118
    return [
        Link(number=number, fields=_fields(table, row), chain=row["chain"] if chained else None)
        for number, row in zip(numbers, rows, strict=True)
    ]


def _fields(table: ChainedTable, row: sqlite3.Row) -> tuple[Field, ...]:
    # A flipped bit can make a text a blob.
    return tuple(repr(row[name]) if isinstance(row[name], bytes) else row[name] for name in table.fields)

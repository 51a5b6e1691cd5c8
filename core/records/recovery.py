"""What can still be read of a damaged archive, row by row.

Input: the damaged file, set aside; it is only read. Output: the sessions as far as their events are whole, and the
machines' rows. A session's events are taken up to the first that is missing: what follows a gap could be a void
without its reading.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

# Where not even the highest row number can be read: as many missing in a row, and the table counts as ended.
_LONGEST_GAP = 2_000


def readable_events(damaged: Path) -> dict[str, list[sqlite3.Row]]:
    """Rows of table `event` by session id, sessions in the order they began, each without gaps from sequence 1."""
    sessions: dict[str, list[sqlite3.Row]] = {}
    for row in readable_rows(damaged, "event"):
        events = sessions.setdefault(row["session_id"], [])
        if row["sequence"] == len(events) + 1:
            events.append(row)
    return {session_id: events for session_id, events in sessions.items() if events}


def readable_rows(damaged: Path, table: str) -> Iterator[sqlite3.Row]:
    """Every row that can be reached by its row number; none where not even the schema can be read."""
    # Without a write-ahead log the file is opened so that nothing is written beside it either.
    wal = damaged.with_name(damaged.name + "-wal")
    how = "mode=ro" if wal.exists() and wal.stat().st_size else "mode=ro&immutable=1"
    with closing(sqlite3.connect(f"{damaged.absolute().as_uri()}?{how}", uri=True, isolation_level=None)) as source:
        source.row_factory = sqlite3.Row
        highest = _one(source, "SELECT seq FROM sqlite_sequence WHERE name = ?", table)
        missing = ordinal = 0
        while ordinal < highest["seq"] if highest else missing < _LONGEST_GAP:
            ordinal += 1
            row = _one(source, f"SELECT * FROM {table} WHERE ordinal = ?", ordinal)
            missing = missing + 1 if row is None else 0
            if row is not None:
                yield row


def _one(source: sqlite3.Connection, statement: str, value: str | int) -> sqlite3.Row | None:
    try:
        row: sqlite3.Row | None = source.execute(statement, (value,)).fetchone()
    except sqlite3.DatabaseError:
        return None
    return row

"""What can still be read of a damaged archive, row by row.

Input: the damaged file, set aside; it is only read. Output: the sessions as far as their events are whole, and the
machines' rows. A session's events are taken up to the first that is missing: what follows a gap could be a void
without its reading.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

# Row numbers that may be missing in a row before the table counts as ended: damage takes whole pages.
_LONGEST_GAP = 20_000


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
    source = sqlite3.connect(f"{damaged.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
    source.row_factory = sqlite3.Row
    missing = 0
    ordinal = 0
    try:
        while missing < _LONGEST_GAP:
            ordinal += 1
            row = _row(source, table, ordinal)
            missing = missing + 1 if row is None else 0
            if row is not None:
                yield row
    finally:
        source.close()


def _row(source: sqlite3.Connection, table: str, ordinal: int) -> sqlite3.Row | None:
    try:
        row: sqlite3.Row | None = source.execute(f"SELECT * FROM {table} WHERE ordinal = ?", (ordinal,)).fetchone()
    except sqlite3.DatabaseError:
        return None
    return row

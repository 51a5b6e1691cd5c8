"""The archive after a way back: an earlier version of the program opens what a later one has migrated.

Input: an archive of a later schema. Output: one of this software's schema under its name, with every session whose
events this software understands, and the later file beside it, whole. It rests on a rule that every later schema keeps
(migrations.py): the events are the record, in the same columns; all others are an index over them or were added.

The power may go at any moment: the archive's name always stands for one whole file, the later or the earlier one.
"""

import os
import sqlite3
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from core.records import migrations, recovery
from core.records.acknowledged import forget
from core.records.archive_file import beside, connect
from core.records.whole_writing import sync_path
from core.said import NOTHING, Name, Part, Series, said_counted

_EARLIER = "earlier"


def step_back(path: Path, now: datetime | None) -> Part:
    """Bring the archive back to this software's schema; a sentence for the person, empty when there was no need."""
    for left_over in path.parent.glob(f"{path.name}.{_EARLIER}-*"):
        left_over.unlink()
    if not path.exists() or not _is_later(path):
        return NOTHING
    earlier = path.with_name(f"{path.name}.{_EARLIER}-{os.urandom(4).hex()}")
    with closing(migrations.opened(path)) as later:
        schema = migrations.schema_version(later)
        with closing(connect(earlier)) as into:
            into.execute("BEGIN IMMEDIATE")
            found = recovery.copy_records(later, into)
            into.execute("COMMIT")
        # Everything into the file itself: the log that lies beside it would not move along.
        later.execute("PRAGMA journal_mode = DELETE")
    aside = beside(path, f"schema-{schema}", now)
    os.link(path, aside)
    sync_path(path.parent)
    forget(path)
    earlier.replace(path)
    sync_path(path.parent)
    taken_over = said_counted(
        "the records are of a later version: {count} session was taken over, {aside} is kept",
        "the records are of a later version: {count} sessions were taken over, {aside} is kept",
        count=found.kept,
        aside=Name(aside.name),
    )
    if not found.left:
        return taken_over
    missing = said_counted("{count} session is only in it", "{count} sessions are only in it", count=found.left)
    return Series((taken_over, missing), joint="; ")


def _is_later(path: Path) -> bool:
    """By the file with its write-ahead log; a damaged one is somebody else's business."""
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as connection,
        suppress(sqlite3.DatabaseError, UnicodeDecodeError),
    ):
        ours = connection.execute("PRAGMA application_id").fetchone()[0] == migrations.APPLICATION_ID
        return bool(ours and migrations.schema_version(connection) > migrations.SCHEMA_VERSION)
    return False

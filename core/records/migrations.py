"""The archive's schema, version by version; a migration and its record in `user_version` are one transaction.

Version n of the schema is what the first n migrations make. Earlier versions are opened again by tests/old_archives.
A migration may add tables, columns and indexes; it never renames, removes or gives another meaning to a column of
`event`, `machine_profile`, `machine_event` or `instrument`: an earlier version of the program that is gone back to
(step_back.py) reads the records by them.
"""

import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path

from core.errors import StorageError
from core.records.chained_tables import chain_what_has_none
from core.said import said

# "CWAR" in ASCII: tells our archive from any other SQLite file (PRAGMA application_id).
APPLICATION_ID = 0x43574152

_FIRST = """
CREATE TABLE session (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    machine TEXT NOT NULL,
    opened_utc TEXT,
    width_mm REAL NOT NULL,
    height_mm REAL NOT NULL,
    window_width_mm REAL,
    window_height_mm REAL,
    simulated INTEGER NOT NULL,
    closed INTEGER NOT NULL DEFAULT 0,
    verdict TEXT,
    size_verdict TEXT,
    skew_deg REAL,
    skew_u95_deg REAL
);
CREATE TABLE event (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id TEXT NOT NULL REFERENCES session (id),
    sequence INTEGER NOT NULL,
    time_utc TEXT,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL,
    UNIQUE (session_id, sequence)
);
CREATE TABLE machine_profile (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    time_utc TEXT,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL
);
CREATE TABLE machine_event (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    time_utc TEXT,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL,
    UNIQUE (machine, sequence)
);
CREATE INDEX session_by_machine ON session (machine, ordinal);
"""

# Where on the bed a coupon was cut, and with which others: for the bed map.
_BED_PLACES = """
ALTER TABLE session ADD COLUMN grid TEXT NOT NULL DEFAULT '';
ALTER TABLE session ADD COLUMN place TEXT NOT NULL DEFAULT '';
CREATE INDEX session_by_grid ON session (grid, ordinal) WHERE grid != '';
"""

# How much too long along X and Y, for the trend of sizes; NULL for sessions closed before this was stored.
_SIZES = """
ALTER TABLE session ADD COLUMN scale_x REAL;
ALTER TABLE session ADD COLUMN scale_x_u95 REAL;
ALTER TABLE session ADD COLUMN scale_y REAL;
ALTER TABLE session ADD COLUMN scale_y_u95 REAL;
"""

# What was used under an instrument's name, and an index over the checks of all sessions. An instrument that nobody gave
# a name goes by its kind. Sessions stored before this may have been taken over from elsewhere: it cannot be told.
_INSTRUMENTS = """
CREATE TABLE instrument (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL,
    simulated INTEGER NOT NULL,
    time_utc TEXT,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL
);
CREATE TABLE gauge_check (
    ordinal INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id TEXT NOT NULL REFERENCES session (id),
    sequence INTEGER NOT NULL,
    time_utc TEXT,
    instrument TEXT NOT NULL,
    quantity TEXT NOT NULL,
    zero REAL NOT NULL,
    zero_sd REAL NOT NULL,
    reference TEXT NOT NULL,
    found REAL,
    found_sd REAL,
    UNIQUE (session_id, sequence)
);
CREATE INDEX gauge_check_by_instrument ON gauge_check (instrument, ordinal);
INSERT OR IGNORE INTO gauge_check
    (session_id, sequence, time_utc, instrument, quantity, zero, zero_sd, reference)
    SELECT session_id, sequence, time_utc,
        CASE WHEN json_extract(payload, '$.instrument') != '' THEN json_extract(payload, '$.instrument')
            WHEN json_extract(payload, '$.quantity') = 'length' THEN 'caliper' ELSE 'angle gauge' END,
        json_extract(payload, '$.quantity'), json_extract(payload, '$.zero'), json_extract(payload, '$.zero_sd'),
        json_extract(payload, '$.reference')
    FROM event WHERE kind = 'gauge-checked' AND version = 1 AND json_valid(payload) ORDER BY ordinal;
"""

# Whether a session was measured at another bench, whose instruments are not those of this one.
_TAKEN_OVER = """
ALTER TABLE session ADD COLUMN taken_over INTEGER NOT NULL DEFAULT 0;
"""

# The chain of checksums (chain.py), and the head of every log; `unproven`: its last entry that got a link afterwards.
_CHAINS = """
ALTER TABLE event ADD COLUMN chain TEXT;
ALTER TABLE machine_profile ADD COLUMN chain TEXT;
ALTER TABLE machine_event ADD COLUMN chain TEXT;
ALTER TABLE instrument ADD COLUMN chain TEXT;
CREATE TABLE log_head (
    kind TEXT NOT NULL,
    log TEXT NOT NULL,
    entries INTEGER NOT NULL,
    chain TEXT NOT NULL,
    unproven INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (kind, log)
) WITHOUT ROWID;
"""

# Widths of the seats, null where the coupon has none.
_SEATS = """
ALTER TABLE session ADD COLUMN seat_nl_fr_mm REAL;
ALTER TABLE session ADD COLUMN seat_nr_fl_mm REAL;
UPDATE session SET
    seat_nl_fr_mm = (SELECT json_extract(payload, '$.coupon.seats.nl_fr_mm') FROM event
        WHERE session_id = session.id AND kind = 'opened' AND json_valid(payload)),
    seat_nr_fl_mm = (SELECT json_extract(payload, '$.coupon.seats.nr_fl_mm') FROM event
        WHERE session_id = session.id AND kind = 'opened' AND json_valid(payload));
"""

# By which version of the program the word that is stored was said.
_SOFTWARE = """
ALTER TABLE session ADD COLUMN software TEXT;
UPDATE session SET software = (SELECT json_extract(payload, '$.software') FROM event
    WHERE session_id = session.id AND kind = 'closed' AND json_valid(payload) ORDER BY sequence DESC LIMIT 1)
    WHERE closed = 1;
"""

# Empty while the bench is alone. Who it is, the shop it belongs to, which machine of the shop each of its machines is,
# how far the shop has confirmed each log (outbox.py), and what other benches logged of the same machines.
_SHOP = """
CREATE TABLE bench_identity (
    id TEXT NOT NULL PRIMARY KEY,
    made_utc TEXT
) WITHOUT ROWID;
CREATE TABLE shop_membership (
    one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    shop TEXT NOT NULL,
    bench TEXT NOT NULL,
    names INTEGER NOT NULL,
    joined_utc TEXT
) WITHOUT ROWID;
CREATE TABLE machine_identity (
    machine TEXT NOT NULL PRIMARY KEY,
    id TEXT NOT NULL,
    taken TEXT NOT NULL DEFAULT ''
) WITHOUT ROWID;
CREATE TABLE outbox_mark (
    kind TEXT NOT NULL,
    log TEXT NOT NULL,
    entries INTEGER NOT NULL,
    refused TEXT NOT NULL DEFAULT '',
    time_utc TEXT,
    PRIMARY KEY (kind, log)
) WITHOUT ROWID;
CREATE TABLE shared_machine_event (
    bench TEXT NOT NULL,
    log TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    machine TEXT NOT NULL,
    time_utc TEXT,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL,
    chain TEXT NOT NULL,
    PRIMARY KEY (bench, log, sequence)
) WITHOUT ROWID;
CREATE INDEX shared_machine_event_by_machine ON shared_machine_event (machine);
"""

# Who measured what came from the shop, which machines the shop knows and which of them are not one of this bench's, and
# what hinders the sending: written by the sending service, read by the bench, which has no network to ask.
_SHOP_KNOWN = """
CREATE TABLE shop_bench (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE shop_machine (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    benches TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE machine_told_apart (
    machine TEXT NOT NULL,
    id TEXT NOT NULL,
    PRIMARY KEY (machine, id)
) WITHOUT ROWID;
CREATE TABLE shared_session (
    session TEXT NOT NULL PRIMARY KEY,
    bench TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE shop_hindrance (
    one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    what TEXT NOT NULL,
    since_utc TEXT
) WITHOUT ROWID;
CREATE INDEX session_taken_over ON session (machine, opened_utc) WHERE taken_over = 1;
"""

# Whether another reading could not have turned the word that is stored; NULL for what was closed before this was kept.
_SETTLED = """
ALTER TABLE session ADD COLUMN settled INTEGER;
"""

MIGRATIONS = (
    _FIRST,
    _BED_PLACES,
    _SIZES,
    _INSTRUMENTS,
    _TAKEN_OVER,
    _CHAINS,
    _SEATS,
    _SOFTWARE,
    _SHOP,
    _SHOP_KNOWN,
    _SETTLED,
)
# What SQL alone cannot do of a migration: by the version that it leads to, in the same transaction.
_AFTERWARDS = {6: chain_what_has_none}
SCHEMA_VERSION = len(MIGRATIONS)


def schema_version(connection: sqlite3.Connection) -> int:
    """The version the file has; 0 for an empty one."""
    row = connection.execute("PRAGMA user_version").fetchone()
    return int(row[0])


def schema_text(connection: sqlite3.Connection) -> tuple[tuple[object, ...], ...]:
    """All that the file says of its tables and indexes; statistics are nobody's business."""
    rows = connection.execute(
        "SELECT type, name, tbl_name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_stat%' ORDER BY type, name"
    ).fetchall()
    return tuple(tuple(row) for row in rows)


def opened(path: Path | None = None, how: str = "") -> sqlite3.Connection:
    """A connection to the archive at this path, or to an empty one in memory, whose rows are asked by name; `how` are
    the words of SQLite's URI for whoever only reads. Raises sqlite3's own errors."""
    where = ":memory:" if path is None else f"{path.absolute().as_uri()}?{how}" if how else path
    connection = sqlite3.connect(where, uri=bool(how), isolation_level=None)
    connection.row_factory = sqlite3.Row
    # Bytes that a flipped bit has made no text of are shown as they are, and no chain holds.
    connection.text_factory = lambda stored: stored.decode("utf-8", "backslashreplace")
    return connection


@cache
def schema_text_of(version: int) -> tuple[tuple[object, ...], ...]:
    """The same of an archive that this version of the schema has just made."""
    with closing(opened()) as connection:
        migrate(connection, version)
        return schema_text(connection)


def migrate(connection: sqlite3.Connection, to: int | None = None) -> None:
    """Bring the file to version `to`, else to this software's; raises StorageError for a file that is newer than it, or
    not ours.

    `connection` must be in autocommit mode (isolation_level None).
    """
    found = schema_version(connection)
    if found > SCHEMA_VERSION:
        raise StorageError(
            said(
                "the archive was written by newer software (schema {found}, this reads up to "
                "{schema_version}): install the newer software, or choose another archive",
                found=found,
                schema_version=SCHEMA_VERSION,
            )
        )
    if found == 0 and connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]:
        raise StorageError(said("this SQLite file is not a Cornerwise archive: choose another file"))
    for version in range(found + 1, (to or SCHEMA_VERSION) + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another program may have migrated between our look and our lock.
            if schema_version(connection) < version:
                for statement in MIGRATIONS[version - 1].split(";\n"):
                    connection.execute(statement)
                if version in _AFTERWARDS:
                    _AFTERWARDS[version](connection)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {version}")
            connection.execute("COMMIT")
        except BaseException:
            # SQLite has already rolled back by itself after some failures, a full card among them.
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

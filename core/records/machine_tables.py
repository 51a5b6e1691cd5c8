"""Machines in the archive: profiles and the machine log. Transactions and errors are the Archive's business."""

from __future__ import annotations

import sqlite3
from datetime import datetime

from core.machine.profile import MachineProfile
from core.records.payload_kinds import EncodedPayload, PayloadKinds
from core.records.session_tables import time_text

TABLES = ("machine_profile", "machine_event")
_PROFILES: PayloadKinds[MachineProfile] = PayloadKinds(version=1, kinds={"profile": MachineProfile})


def insert_profile(connection: sqlite3.Connection, now: datetime | None, profile: MachineProfile) -> None:
    """Add a profile; the newest of a name is the one that holds."""
    encoded = _PROFILES.encode(profile)
    connection.execute(
        "INSERT INTO machine_profile (machine, time_utc, version, payload) VALUES (?, ?, ?, ?)",
        (profile.name, time_text(now), encoded.version, encoded.text),
    )


def profiles(connection: sqlite3.Connection) -> tuple[MachineProfile, ...]:
    """The newest profile of every machine: those without a session first (new ones), then the last one used."""
    rows = connection.execute(
        "SELECT version, payload, (SELECT max(ordinal) FROM session WHERE session.machine = machine_profile.machine) "
        "AS used FROM machine_profile WHERE ordinal IN (SELECT max(ordinal) FROM machine_profile GROUP BY machine) "
        "ORDER BY used DESC NULLS FIRST, ordinal DESC"
    ).fetchall()
    decoded = [
        _PROFILES.decode(EncodedPayload(kind="profile", version=row["version"], text=row["payload"])) for row in rows
    ]
    return tuple(profile for profile in decoded if profile is not None)


def copy_row(connection: sqlite3.Connection, table: str, row: sqlite3.Row) -> None:
    """Take over a row of another archive as it stands."""
    marks = ", ".join("?" * len(row))
    connection.execute(f"INSERT INTO {table} ({', '.join(row.keys())}) VALUES ({marks})", tuple(row))

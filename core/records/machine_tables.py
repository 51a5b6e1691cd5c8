"""Machines in the archive: profiles and the machine log. Transactions and errors are the Archive's business."""

import math
import sqlite3
from datetime import datetime

from msgspec.structs import replace

from core.errors import BadInputError
from core.machine import (
    BeltsCompared,
    CautionAcknowledged,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    CorrectionResumed,
    EntryUndone,
    GapRead,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineProfile,
    MotorStepDone,
    ReferenceKept,
    StepDone,
)
from core.records.chained_tables import MACHINE_EVENTS, PROFILES, add_entry, believed_rows, next_number
from core.records.payload_kinds import EncodedPayload, PayloadKinds
from core.records.session_tables import time_of, time_text

TABLES = ("machine_profile", "machine_event")
_PROFILES: PayloadKinds[MachineProfile] = PayloadKinds(version=1, kinds={"profile": MachineProfile})
_LOG: PayloadKinds[LogPayload] = PayloadKinds(
    version=1,
    kinds={
        "correction-begun": CorrectionBegun,
        "caution-acknowledged": CautionAcknowledged,
        "gap-read": GapRead,
        "step-done": StepDone,
        "motor-step-done": MotorStepDone,
        "correction-applied": CorrectionApplied,
        "correction-abandoned": CorrectionAbandoned,
        "correction-resumed": CorrectionResumed,
        "reference-kept": ReferenceKept,
        "belts-compared": BeltsCompared,
        "event": MachineEvent,
        "undone": EntryUndone,
    },
)


def insert_profile(connection: sqlite3.Connection, now: datetime | None, profile: MachineProfile) -> None:
    """Add a profile; the newest of a name is the one that holds."""
    encoded = _PROFILES.encode(profile)
    fields = (profile.name, time_text(now), encoded.version, encoded.text)
    add_entry(connection, PROFILES, "", fields)


def profiles(connection: sqlite3.Connection) -> tuple[MachineProfile, ...]:
    """The newest whole profile of every machine: those without a session first (new ones), then the last one used."""
    newest = {row["machine"]: row for row in believed_rows(connection, PROFILES, "")}
    used = {
        name: connection.execute("SELECT max(ordinal) FROM session WHERE machine = ?", (name,)).fetchone()[0]
        for name in newest
    }
    rows = sorted(newest.values(), key=lambda row: (used[row["machine"]] or math.inf, row["ordinal"]), reverse=True)
    decoded = [
        _PROFILES.decode(EncodedPayload(kind="profile", version=row["version"], text=row["payload"])) for row in rows
    ]
    return tuple(profile for profile in decoded if profile is not None)


def insert_log_entry(
    connection: sqlite3.Connection, machine: str, now: datetime | None, payload: LogPayload
) -> LogEntry:
    """Add one line to a machine's log; what begins a new stretch of its history notes which session came before."""
    payload = _placed(connection, payload)
    encoded = _LOG.encode(payload)
    entry = LogEntry(sequence=next_number(connection, MACHINE_EVENTS, machine), time_utc=now, payload=payload)
    fields = (entry.sequence, time_text(now), encoded.kind, encoded.version, encoded.text)
    add_entry(connection, MACHINE_EVENTS, machine, fields)
    return entry


def _placed(connection: sqlite3.Connection, payload: LogPayload) -> LogPayload:
    if not isinstance(payload, CorrectionApplied | MachineEvent):
        return payload
    newest = "SELECT id FROM session WHERE taken_over = 0 ORDER BY ordinal DESC LIMIT 1"
    row = connection.execute(newest).fetchone()
    return replace(payload, after=row["id"] if row else "")


def log_entries(connection: sqlite3.Connection, machine: str) -> tuple[LogEntry, ...]:
    """A machine's log in its order; lines of a kind only later software knows stay in the file and are passed over, and
    so are damaged ones, which the inspection of the archive names."""
    rows = believed_rows(connection, MACHINE_EVENTS, machine)
    return tuple(entry for row in rows if (entry := decoded_entry(row)) is not None)


def decoded_entry(row: sqlite3.Row) -> LogEntry | None:
    """The line of a machine's log that a row holds; None for a kind that only later software knows."""
    payload = _LOG.decode(EncodedPayload(kind=row["kind"], version=row["version"], text=row["payload"]))
    if payload is None:
        return None
    return LogEntry(sequence=row["sequence"], time_utc=time_of(row["time_utc"]), payload=payload)


def is_readable(kind: str, version: int, payload: str) -> bool:
    """Whether a line of a machine's log says what this software understands."""
    try:
        return _LOG.decode(EncodedPayload(kind=kind, version=version, text=payload)) is not None
    except BadInputError:
        return False

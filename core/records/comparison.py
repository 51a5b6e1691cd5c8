"""Which sessions of the archive are held against which: the coupon before a correction, and those after it.

Input: the archive and the session just closed. Output: the comparison, None where there is nothing to compare with.
"""

from __future__ import annotations

from dataclasses import replace

from core.machine.before_after import BeforeAfter, before_after
from core.machine.gantry_correction import Correction
from core.machine.machine_log import CorrectionApplied, MachineEvent
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.session_record import SessionRecord


def reported_record(archive: Archive, session_id: str) -> SessionRecord:
    """A session with all that its report tells, the comparison included; raises BadInputError as `compared` does."""
    record = archived_record(archive, session_id)
    return replace(record, comparison=_comparison(archive, record))


def compared(archive: Archive, session_id: str) -> BeforeAfter | None:
    """Hold a closed session, and those since the same correction, against the coupon that the correction came from.

    Where the machine was not corrected, against the coupon closed before it. Raises BadInputError when the session
    has nothing to report.
    """
    return _comparison(archive, archived_record(archive, session_id))


def _comparison(archive: Archive, this: SessionRecord) -> BeforeAfter | None:
    machine = this.session.opened.machine
    if not machine:
        return None
    judged = [one for one in archive.sessions(machine=machine) if one.closed and one.skew_deg is not None]
    on_machine = [one.id for one in reversed(judged)]
    earlier = on_machine[: on_machine.index(this.stored_id)] if this.stored_id in on_machine else on_machine
    corrected = _corrected_from(archive, machine)
    if corrected in earlier:
        before = archived_record(archive, corrected)
        since = [archived_record(archive, one) for one in earlier[earlier.index(corrected) + 1 :]]
        return before_after(before.evaluation, [one.evaluation for one in (*since, this)], _move(before))
    if this.before is None:
        return None
    return before_after(archived_record(archive, this.before.id).evaluation, [this.evaluation])


def _corrected_from(archive: Archive, machine: str) -> str:
    """The session whose correction was applied last; empty when none was, or a reset or an upset came after it."""
    applied = ""
    for entry in archive.machine_events(machine):
        match entry.payload:
            case CorrectionApplied(session=session, coarse=None):
                applied = session
            case CorrectionApplied() | MachineEvent():
                applied = ""
    return applied


def _move(before: SessionRecord) -> Correction | None:
    return before.correction if isinstance(before.correction, Correction) else None

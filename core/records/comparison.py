"""Which sessions of the archive are held against which: the coupon before a correction, and those after it.

Input: the archive and the session just closed. Output: the comparison, None where there is nothing to compare with.
"""

from collections.abc import Sequence
from functools import cache, partial

from msgspec.structs import replace

from core.machine import BeforeAfter, Correction, CorrectionApplied, MachineEvent, in_order
from core.machine.before_after import before_after
from core.metrology import Evaluation, MarkSeen
from core.records.archive import Archive
from core.records.archived_record import archived_record, archived_session
from core.records.session_record import SessionRecord, judged
from core.said import NOTHING, Name, Series, paragraph, said

# A judged coupon, and which corner carried its mark on the bed; None where nobody was asked.
Lying = tuple[Evaluation, MarkSeen | None]


class ReportedRecords:
    """Sessions with all that their reports tell; what many of one machine share is looked up and judged once.

    For as long as nothing is added to the archive: it is made for one command, page or download.
    """

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._closed_on = cache(partial(_closed_on, archive))
        self._corrected_from = cache(partial(_corrected_from, archive))
        # The coupon that a correction came from: every one since is held against it.
        self._base = cache(partial(archived_record, archive))
        self._lying: dict[str, Lying] = {}

    def record(self, session_id: str) -> SessionRecord:
        """One session, the comparison included; raises BadInputError when it has nothing to report."""
        record = archived_record(self._archive, session_id)
        self._lying[record.stored_id] = _lies(record)
        return replace(record, comparison=self._comparison(record))

    def _comparison(self, this: SessionRecord) -> BeforeAfter | None:
        """Hold it, and those since the same correction, against the coupon that the correction came from; where the
        machine was not corrected, against the coupon closed before it."""
        machine = this.session.opened.machine
        if not machine:
            return None
        on_machine = self._closed_on(machine)
        earlier = on_machine[: on_machine.index(this.stored_id)] if this.stored_id in on_machine else on_machine
        corrected = self._corrected_from(machine)
        if corrected in earlier:
            before = self._base(corrected)
            since = earlier[earlier.index(corrected) + 1 :]
            held = _held_against(_lies(before), [*map(self._lain, since), _lies(this)], _move(before))
            return self._naming_benches(held, corrected, since)
        if this.before is None:
            return None
        return self._naming_benches(_held_against(self._lain(this.before.id), [_lies(this)]), this.before.id, ())

    def _naming_benches(self, held: BeforeAfter, before: str, since: Sequence[str]) -> BeforeAfter:
        """Say which of it was measured at other benches of the shop."""
        at = self._archive.shop.measured_at([before, *since])
        first = NOTHING
        if before in at:
            first = said("The coupon before was measured at another bench: {bench}.", bench=Name(at[before]))
        others = sorted({at[one] for one in since if one in at})
        then = NOTHING
        if others:
            names = Series(tuple(Name(name) for name in others), joint=", ")
            then = said("Of those after it some were measured at other benches: {benches}.", benches=names)
        return replace(held, text=paragraph(*held.text.items, first, then)) if at else held

    def _lain(self, session_id: str) -> Lying:
        if session_id not in self._lying:
            session = archived_session(self._archive, session_id)
            self._lying[session_id] = judged(session_id, session), session.mark
        return self._lying[session_id]


def reported_record(archive: Archive, session_id: str) -> SessionRecord:
    """A session with all that its report tells, the comparison included; raises BadInputError when it has nothing to
    report."""
    return ReportedRecords(archive).record(session_id)


def compared(archive: Archive, session_id: str) -> BeforeAfter | None:
    """What a session says beside those before it, None where there is nothing to compare with; raises BadInputError
    when it has nothing to report."""
    return reported_record(archive, session_id).comparison


def _closed_on(archive: Archive, machine: str) -> tuple[str, ...]:
    """Its judged sessions, the oldest first."""
    newest_first = archive.sessions(machine=machine)
    return tuple(one.id for one in reversed(newest_first) if one.closed and one.skew_deg is not None)


def _corrected_from(archive: Archive, machine: str) -> str:
    """The session whose correction was applied last, at whatever bench; empty when none was, or a reset or an upset
    came after it."""
    applied = ""
    for entry in in_order(archive.machine_events(machine), *(log for _, log in archive.shop.shared_logs(machine))):
        match entry.payload:
            case CorrectionApplied(session=session, coarse=None):
                applied = session
            case CorrectionApplied() | MachineEvent():
                applied = ""
    return applied


def _lies(record: SessionRecord) -> Lying:
    return record.evaluation, record.session.mark


def _held_against(before: Lying, after: Sequence[Lying], correction: Correction | None = None) -> BeforeAfter:
    marks = [mark for _, mark in (before, *after)]
    return before_after(before[0], [evaluation for evaluation, _ in after], correction, marks)


def _move(before: SessionRecord) -> Correction | None:
    return before.correction if isinstance(before.correction, Correction) else None

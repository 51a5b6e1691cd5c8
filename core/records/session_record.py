"""Everything a download tells of a session: the log, the judgement recomputed from it, the correction, what was before.

Input: the session, and what the archive knows of the machine. Output: the SessionRecord every file is made of.
"""

from msgspec import Struct

from core.errors import BadInputError
from core.machine import (
    PART_SIDE_MM,
    BeforeAfter,
    Correction,
    LogEntry,
    MachineProfile,
    Refusal,
    part_side_mm,
    profile_of_span,
)
from core.machine.gantry_correction import gantry_correction
from core.metrology import Evaluation
from core.records.instrument_book import CheckHistory, checks_within
from core.records.session import Session
from core.records.session_id import checked_session_id, folder_name
from core.records.session_tables import SessionSummary
from core.said import Name, said


class SessionRecord(Struct, frozen=True, kw_only=True, eq=False):
    """A session with its judgement. `correction` is None where no gantry span is known; `before` is the last coupon
    that was closed on this machine before this one; `comparison` says what became of the machine since, None where it
    was not asked for or there is nothing to compare with; `checks` are the last ones of every instrument used;
    `part_side_mm` is the side of the person's own part, on which the skew is shown. `id` names files and folders, so it
    has the form of a session's id, always; `stored_id` is what the archive calls it. `machine_log` is what was
    done to the machine, `logged_elsewhere` what other benches of the shop logged of it, each with its bench's name;
    `bench` is the other bench that measured the session, empty for this one."""

    id: str
    stored_id: str
    session: Session
    evaluation: Evaluation
    correction: Correction | Refusal | None
    before: SessionSummary | None
    checks: tuple[CheckHistory, ...]
    comparison: BeforeAfter | None = None
    part_side_mm: float = PART_SIDE_MM
    machine_log: tuple[LogEntry, ...] = ()
    logged_elsewhere: tuple[tuple[str, tuple[LogEntry, ...]], ...] = ()
    bench: str = ""

    def __post_init__(self) -> None:
        checked_session_id(self.id)


def judged(session_id: str, session: Session) -> Evaluation:
    """Judge the session anew from its readings; raises BadInputError when it has none that counts."""
    evaluation = session.evaluation()
    if evaluation is None:
        raise BadInputError(
            said(
                "session {session_id} has no reading that counts: there is nothing to report yet",
                session_id=Name(session_id),
            )
        )
    return evaluation


def record_session(
    session_id: str,
    session: Session,
    *,
    profile: MachineProfile | None = None,
    before: SessionSummary | None = None,
    checks: tuple[CheckHistory, ...] | None = None,
    machine_log: tuple[LogEntry, ...] = (),
) -> SessionRecord:
    """Judge the session anew from its readings; raises BadInputError when it has none that counts.

    `profile` is that of its machine; without one the gantry span the session was opened with serves. `checks` are those
    the archive knows; without an archive, those made in the session itself.
    """
    evaluation, opened = judged(session_id, session), session.opened
    if profile is None and opened.span_mm is not None:
        profile = profile_of_span(opened.span_mm)
    correction = None
    if profile is not None:
        correction = gantry_correction(evaluation, profile, answers=session.move_answers, setup=session.setup)
    return SessionRecord(
        id=folder_name(session_id),
        stored_id=session_id,
        session=session,
        evaluation=evaluation,
        correction=correction,
        before=before,
        checks=checks_within(session_id, session) if checks is None else checks,
        part_side_mm=part_side_mm(profile),
        machine_log=machine_log,
    )

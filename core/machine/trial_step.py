"""A trial step held against the re-cut: did the skew change by what was done to the machine.

Stage: correction, where nothing but names told the direction. In: the machine log and the next coupon. Out: True as
foretold, False otherwise, None where there was no trial step or its change cannot be seen. Only True brings the rest.
"""

import math
from collections.abc import Iterable
from datetime import datetime

from core.machine.machine_log import CorrectionApplied, CorrectionBegun, LogEntry, MachineEvent
from core.machine.parallelism import moved_u_mm
from core.machine.profile import MachineProfile
from core.metrology import Answers, Estimate, Evaluation, came_as_foretold, turned_by


def trial_came_true(
    entries: Iterable[LogEntry],
    profile: MachineProfile,
    *,
    session: str,
    opened_utc: datetime | None,
    evaluation: Evaluation,
    answers: Answers,
) -> bool | None:
    """What the coupon of `session`, opened at `opened_utc`, says of the last trial step made on its machine."""
    trial = _last_trial(entries, session, opened_utc)
    skew = evaluation.told_skew_deg
    if trial is None or skew is None:
        return None
    begun, made_mm = trial
    turned = turned_by(answers.mark)
    step_deg = -math.copysign(math.degrees(math.atan(made_mm / begun.span_mm)), begun.skew_deg)
    return came_as_foretold(
        Estimate(value=begun.skew_deg, u=begun.skew_u_deg),
        Estimate(value=turned * skew.value, u=skew.u, nu=skew.nu),
        Estimate(value=step_deg, u=math.degrees(moved_u_mm(profile) / begun.span_mm)),
    )


def _last_trial(
    entries: Iterable[LogEntry], session: str, opened_utc: datetime | None
) -> tuple[CorrectionBegun, float] | None:
    """The trial step made last and how far the gaps say it went; None where anything came between it and the coupon."""
    begun: CorrectionBegun | None = None
    made: tuple[CorrectionBegun, float] | None = None
    for entry in entries:
        match entry.payload:
            case CorrectionBegun() as correction:
                begun, made = correction, None if correction.session == session else made
            case CorrectionApplied(made_mm=made_mm, session=corrected, after=after):
                is_trial = begun is not None and begun.session == corrected and begun.share < 1.0
                later = entry.time_utc is None or opened_utc is None or opened_utc >= entry.time_utc
                of_another = session not in (corrected, after)
                made = (begun, made_mm) if begun and made_mm and is_trial and later and of_another else None
            case MachineEvent():
                made = None
    return made

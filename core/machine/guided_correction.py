"""The guided correction that keeps its zero: what comes next, folded from the machine log.

Stage: correction. Input: the machine log and the profile. Output: the state, and what to ask the person next. Nothing
is kept but the log, so leaving and coming back loses nothing.

Order: cautions; play; gaps at both ends while untouched; loosen; set to the target gaps; tighten; gaps again, because
tightening moves it; again until inside; run by hand and read once more; re-align; re-cut.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from core.machine.cautions import Caution, cautions_for
from core.machine.directions import Side
from core.machine.gantry_correction import Correction
from core.machine.machine_log import (
    CautionAcknowledged,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    StepDone,
)
from core.machine.parallelism import Gaps, GapTarget, NullReading, null_meter, target_gaps
from core.machine.profile import MachineProfile
from core.machine.spent_coupon import VOID_WORDS
from core.metrology.adjustment import Estimate


class Stage(StrEnum):
    """What is to be done next."""

    CAUTIONS = "cautions"
    PLAY = "play"
    READ_UNTOUCHED = "read-untouched"
    LOOSEN = "loosen"
    SET = "set"
    TIGHTEN = "tighten"
    READ_SET = "read-set"
    RUN = "run"
    READ_RUN = "read-run"
    REALIGN = "realign"
    RECUT = "recut"
    DONE = "done"
    VOID = "void"  # the coupon's number no longer belongs to the machine as it stands


# A ticked step leads from one stage to the next; readings and cautions have rules of their own below.
_AFTER_STEP = {
    (Stage.PLAY, GuidedStep.NO_PLAY): Stage.READ_UNTOUCHED,
    (Stage.LOOSEN, GuidedStep.LOOSENED): Stage.SET,
    (Stage.SET, GuidedStep.SET): Stage.TIGHTEN,
    (Stage.TIGHTEN, GuidedStep.TIGHTENED): Stage.READ_SET,
    (Stage.RUN, GuidedStep.RUN_BY_HAND): Stage.READ_RUN,
    (Stage.REALIGN, GuidedStep.REALIGNED): Stage.RECUT,
    (Stage.RECUT, GuidedStep.RECUT): Stage.DONE,
}
STEP_OF_STAGE = dict(_AFTER_STEP.keys())
PHASE_OF_STAGE = {
    Stage.READ_UNTOUCHED: GapPhase.UNTOUCHED,
    Stage.READ_SET: GapPhase.SET,
    Stage.READ_RUN: GapPhase.RUN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidedState:
    """A guided correction under way. `untouched` and `target` are None until both gaps were read before loosening.

    `first_mm` and `second_mm` are the gaps read in the present stage, `latest` the newest complete pair, `rounds` how
    often it was tightened and read, `void` why the coupon's number is lost (empty while it is good).
    """

    begun: CorrectionBegun
    profile: MachineProfile
    stage: Stage = Stage.CAUTIONS
    acknowledged: tuple[str, ...] = ()
    untouched: Gaps | None = None
    first_mm: float | None = None
    second_mm: float | None = None
    latest: Gaps | None = None
    rounds: int = 0
    void: str = ""

    @property
    def caution(self) -> Caution | None:
        """The next caution to acknowledge."""
        return next((c for c in cautions_for(self.profile) if c.name not in self.acknowledged), None)

    @property
    def target(self) -> GapTarget | None:
        """The gaps to set, once the untouched ones are known."""
        if self.untouched is None:
            return None
        return target_gaps(
            self.untouched,
            move_mm=Estimate(value=self.begun.move_mm, u=self.begun.move_u_mm),
            end=self.begun.end,
            direction=self.begun.direction,
            profile=self.profile,
        )

    @property
    def gap_end(self) -> Side | None:
        """The end whose gap is to be read next; None when no gap is asked for."""
        if self.stage not in PHASE_OF_STAGE:
            return None
        return self.profile.ends[0] if self.first_mm is None else self.profile.ends[1]

    @property
    def meter(self) -> NullReading | None:
        """The null meter on the newest pair of gaps."""
        target = self.target
        return null_meter(self.latest, target, self.profile) if target and self.latest else None

    def live(self, end: Side, gap_mm: float) -> NullReading | None:
        """The null meter while the jaws stand at one end, the other end's gap as last read."""
        target = self.target
        if target is None or self.latest is None:
            return None
        first = end is self.profile.ends[0]
        now = replace(self.latest, first_mm=gap_mm) if first else replace(self.latest, second_mm=gap_mm)
        return null_meter(now, target, self.profile)

    @property
    def made_mm(self) -> float | None:
        """How far the gaps say the end was really moved, along the direction asked for."""
        meter = self.meter
        if meter is None:
            return None
        return self.begun.move_mm - (meter.left_mm if meter.direction is self.begun.direction else -meter.left_mm)


def begin(session: str, correction: Correction) -> CorrectionBegun:
    """The entry that starts a guided correction."""
    return CorrectionBegun(
        session=session,
        skew_deg=correction.skew_deg.value,
        skew_u_deg=correction.skew_deg.u,
        span_mm=correction.span_mm,
        move_mm=correction.move_mm.value,
        move_u_mm=correction.move_mm.u,
        end=correction.end,
        direction=correction.direction,
    )


def guided_state(entries: Iterable[LogEntry], profile: MachineProfile) -> GuidedState | None:
    """The correction under way after these entries; None when there is none. Entries out of turn change nothing."""
    state: GuidedState | None = None
    for entry in entries:
        match entry.payload:
            case CorrectionBegun() as begun:
                state = GuidedState(begun=begun, profile=replace(profile, span_mm=begun.span_mm))
            case CorrectionAbandoned():
                state = None
            case CorrectionApplied(coarse=coarse) if coarse is not None:
                state = None
            case payload if state is not None:
                state = _after(state, payload)
    return state


def _after(state: GuidedState, payload: LogPayload) -> GuidedState:
    if state.stage in (Stage.DONE, Stage.VOID):
        return state
    match payload:
        case CautionAcknowledged(caution=name):
            return _after_caution(state, name)
        case StepDone(step=step):
            stage = _AFTER_STEP.get((state.stage, step), state.stage)
            return state if stage is state.stage else replace(state, stage=stage, first_mm=None, second_mm=None)
        case GapRead() as gap:
            return _after_gap(state, gap)
        case MachineEvent(kind=kind):
            return replace(state, stage=Stage.VOID, void=VOID_WORDS[kind])
        case _:
            return state


def _after_caution(state: GuidedState, name: str) -> GuidedState:
    state = replace(state, acknowledged=(*state.acknowledged, name))
    if state.stage is Stage.CAUTIONS and state.caution is None:
        return replace(state, stage=Stage.PLAY)
    return state


def _after_gap(state: GuidedState, gap: GapRead) -> GuidedState:
    if PHASE_OF_STAGE.get(state.stage) is not gap.phase or gap.end not in state.profile.ends:
        return state
    if gap.end is state.profile.ends[0]:
        state = replace(state, first_mm=gap.gap_mm)
    else:
        state = replace(state, second_mm=gap.gap_mm)
    if state.first_mm is None or state.second_mm is None:
        return state
    pair = Gaps(first_mm=state.first_mm, second_mm=state.second_mm)
    state = replace(state, latest=pair, first_mm=None, second_mm=None)
    if state.stage is Stage.READ_UNTOUCHED:
        return replace(state, untouched=pair, stage=Stage.LOOSEN)
    meter = state.meter
    inside = meter is not None and meter.inside
    if state.stage is Stage.READ_SET:
        return replace(state, rounds=state.rounds + 1, stage=Stage.RUN if inside else Stage.LOOSEN)
    return replace(state, stage=Stage.REALIGN if inside else Stage.LOOSEN)


def answer(state: GuidedState, gap_mm: float | None = None) -> tuple[LogPayload, ...]:
    """The entries to log when the person has done what the present stage asks; a gap in mm where one is read.

    The reading that finds both gaps inside after the run by hand is followed by `CorrectionApplied`.
    """
    if state.stage is Stage.CAUTIONS:
        caution = state.caution
        return (CautionAcknowledged(caution=caution.name),) if caution else ()
    if state.stage in STEP_OF_STAGE:
        return (StepDone(step=STEP_OF_STAGE[state.stage]),)
    end = state.gap_end
    if end is None or gap_mm is None:
        return ()
    read = GapRead(end=end, gap_mm=gap_mm, phase=PHASE_OF_STAGE[state.stage])
    after = _after_gap(state, read)
    if after.stage is Stage.REALIGN:
        return (read, CorrectionApplied(session=state.begun.session, made_mm=after.made_mm))
    return (read,)

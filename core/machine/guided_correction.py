"""The guided correction that keeps its zero: what comes next, folded from the machine log.

Stage: correction. Input: the machine log and the profile. Output: the state, and what to ask the person next. Nothing
is kept but the log, so leaving and coming back loses nothing.

The order of the steps, and the state of power in each, is the machine's own (`procedure`). Before each step stand its
cautions. Not inside after tightening or running: back to setting. Which way a controller counts its offset is proven by
the gaps after a quarter of the move, before the rest is said.
"""

from collections.abc import Iterable

from msgspec import Struct
from msgspec.structs import replace

from core.machine.cautions import Caution, cautions_before
from core.machine.directions import Side
from core.machine.gantry_correction import Correction
from core.machine.machine_log import (
    CautionAcknowledged,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    CorrectionResumed,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MotorStep,
    MotorStepDone,
    StepDone,
)
from core.machine.parallelism import Gaps, GapTarget, NullReading, moved_u_mm, null_meter, target_gaps, turned_to
from core.machine.procedure import Power, Stage, Step, procedure_of
from core.machine.profile import MachineProfile
from core.machine.spent_coupon import VOID_WORDS
from core.metrology import Estimate
from core.said import NOTHING, Said, said

# A ticked step leads on from its own stage and no other; readings and cautions have rules of their own below.
STEP_OF_STAGE: dict[Stage, StepDone | MotorStepDone] = {
    Stage.PLAY: StepDone(step=GuidedStep.NO_PLAY),
    Stage.START: MotorStepDone(step=MotorStep.STARTED),
    Stage.LOOSEN: StepDone(step=GuidedStep.LOOSENED),
    Stage.SET: StepDone(step=GuidedStep.SET),
    Stage.TIGHTEN: StepDone(step=GuidedStep.TIGHTENED),
    Stage.TRY: MotorStepDone(step=MotorStep.TRIED),
    Stage.OFFSET: MotorStepDone(step=MotorStep.OFFSET),
    Stage.STORE: MotorStepDone(step=MotorStep.STORED),
    Stage.RUN: StepDone(step=GuidedStep.RUN_BY_HAND),
    Stage.REALIGN: StepDone(step=GuidedStep.REALIGNED),
    Stage.RECUT: StepDone(step=GuidedStep.RECUT),
}
PHASE_OF_STAGE = {
    Stage.READ_UNTOUCHED: GapPhase.UNTOUCHED,
    Stage.READ_TRY: GapPhase.SET,
    Stage.READ_SET: GapPhase.SET,
    Stage.READ_RUN: GapPhase.RUN,
}
# The stages in which the end that moves is spoken of; before and after them no move stands anywhere.
MOVING = (Stage.LOOSEN, Stage.SET, Stage.TRY, Stage.OFFSET)
QUARTER = 0.25
# A move that the gaps show beyond this many standard uncertainties is proven (99 %, two-sided normal).
_SEEN_SDS = 2.58
NOTHING_TO_SET = said("Nothing can be adjusted on this machine: correct the design file instead.")


class GuidedState(Struct, frozen=True, kw_only=True):
    """A guided correction under way. `untouched` and `target` are None until both gaps were read before loosening.

    `number` is the step's place in the procedure, `before` the state of power in the step done last (None where the
    correction begins or was taken up again), `acknowledged` the cautions of the present step that were read.
    `first_mm` and `second_mm` are the gaps read in the present step, `latest` the newest complete pair, `rounds` how
    often it was set and read, `quarters` how many quarters of the move were tried, `sense` +1 when the offset of the
    controller counts the way it was tried, -1 when the other way, 0 while that is not proven. `void` is why the
    coupon's number is lost (nothing while it is good), `older` whether it was made by an older procedure, which asked
    all cautions before the first step.
    """

    begun: CorrectionBegun
    profile: MachineProfile
    number: int = 0
    before: Power | None = None
    acknowledged: tuple[str, ...] = ()
    untouched: Gaps | None = None
    first_mm: float | None = None
    second_mm: float | None = None
    latest: Gaps | None = None
    rounds: int = 0
    quarters: int = 0
    sense: int = 0
    void: Said = NOTHING
    older: bool = False

    @property
    def steps(self) -> tuple[Step, ...]:
        """The whole procedure of this machine."""
        return procedure_of(self.profile)

    @property
    def step(self) -> Step | None:
        """The step that is to be done, once its cautions were read; None when nothing is to be done any more."""
        return self.steps[self.number] if not self.void and self.number < len(self.steps) else None

    @property
    def stage(self) -> Stage:
        """What to ask the person now: a caution first, then the step."""
        if self.step is None:
            return Stage.VOID if self.void else Stage.DONE
        return Stage.CAUTIONS if self.caution else self.step.stage

    @property
    def caution(self) -> Caution | None:
        """The next caution to acknowledge before the present step."""
        if self.step is None or self.older:
            return None
        wanted = cautions_before(self.step, self.before, self.profile)
        return next((caution for caution in wanted if caution.name not in self.acknowledged), None)

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
        """The null meter while the jaws stand at one end and that end is moved."""
        target = self.target
        if target is None or self.latest is None:
            return None
        return null_meter(turned_to(self.latest, end, gap_mm, self.profile), target, self.profile)

    def to_go(self, gap_mm: float | None = None) -> NullReading | None:
        """What is to be moved from where the gantry is now; None outside the steps that move it.

        `gap_mm` is the live gap at the end that moves, which counts while it is set by hand.
        """
        if self.stage not in MOVING:
            return None
        live = gap_mm is not None and self.stage is Stage.SET
        return self.live(self.begun.end, gap_mm) if live and gap_mm is not None else self.meter

    @property
    def quarter_mm(self) -> float:
        """What is tried before the sign of the offset is proven."""
        return QUARTER * self.begun.move_mm

    @property
    def tries_another(self) -> bool:
        """Whether a quarter is to be added now: none was, or those so far are too small to be seen in the gaps."""
        return self.quarters == 0 or self.quarters * self.quarter_mm < 2.0 * _SEEN_SDS * moved_u_mm(self.profile)

    @property
    def made_mm(self) -> float | None:
        """How far the gaps say the end was really moved, along the direction asked for."""
        meter = self.meter
        if meter is None:
            return None
        return self.begun.move_mm - (meter.to_go_mm if meter.direction is self.begun.direction else -meter.to_go_mm)


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
        share=correction.share,
    )


def guided_state(entries: Iterable[LogEntry], profile: MachineProfile) -> GuidedState | None:
    """The correction under way after these entries; None when there is none. Entries out of turn change nothing."""
    state: GuidedState | None = None
    for entry in entries:
        match entry.payload:
            case CorrectionBegun() as begun:
                void = NOTHING if procedure_of(profile) else NOTHING_TO_SET
                state = GuidedState(begun=begun, profile=replace(profile, span_mm=begun.span_mm), void=void)
            case CorrectionAbandoned():
                state = None
            case CorrectionApplied(coarse=coarse) if coarse is not None:
                state = None
            case payload if state is not None:
                state = _after(state, payload)
    return state


def _after(state: GuidedState, payload: LogPayload) -> GuidedState:
    if state.step is None:
        return state
    match payload:
        case CautionAcknowledged(caution=name):
            return replace(state, acknowledged=(*state.acknowledged, name))
        case StepDone() | MotorStepDone():
            return _after_step(state, payload)
        case GapRead() as gap:
            return _after_gap(state, gap)
        case CorrectionResumed():
            return replace(state, before=None, acknowledged=())
        case CorrectionApplied(session=session) if session == state.begun.session:
            made = _place(state, Stage.REALIGN) <= state.number
            return state if made else replace(_at(state, Stage.REALIGN), older=True)
        case MachineEvent(kind=kind):
            return replace(state, void=VOID_WORDS[kind])
        case _:
            return state


def _after_step(state: GuidedState, done: StepDone | MotorStepDone) -> GuidedState:
    if STEP_OF_STAGE.get(state.stage) != done:
        return state
    if state.stage is Stage.TRY and state.tries_another:
        state = replace(state, quarters=state.quarters + 1)
    return _next(state)


def _place(state: GuidedState, stage: Stage) -> int:
    return next(number for number, step in enumerate(state.steps) if step.stage is stage)


def _at(state: GuidedState, stage: Stage) -> GuidedState:
    return _moved_on(state, _place(state, stage))


def _next(state: GuidedState) -> GuidedState:
    return _moved_on(state, state.number + 1)


def _moved_on(state: GuidedState, number: int) -> GuidedState:
    """At another step: its cautions are asked, whatever was acknowledged before."""
    before = state.step.power if state.step else None
    return replace(state, number=number, before=before, acknowledged=(), first_mm=None, second_mm=None)


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
    return _after_pair(state.stage, replace(state, latest=pair, first_mm=None, second_mm=None))


def _after_pair(stage: Stage, state: GuidedState) -> GuidedState:
    """Both gaps are read: on when they are where they have to be, else back to where it is set."""
    if stage is Stage.READ_UNTOUCHED:
        return _next(replace(state, untouched=state.latest))
    if stage is Stage.READ_TRY:
        return _after_trial(state)
    if stage is Stage.READ_SET:
        state = replace(state, rounds=state.rounds + 1)
    meter = state.meter
    if meter is not None and meter.inside:
        return _next(state)
    by_offset = any(step.stage is Stage.OFFSET for step in state.steps)
    return _at(state, Stage.OFFSET if by_offset else Stage.LOOSEN)


def _after_trial(state: GuidedState) -> GuidedState:
    """The gaps say which way the offset counts, or that they did not follow: then it is tried again."""
    made_mm = state.made_mm or 0.0
    followed_mm = max(_SEEN_SDS * moved_u_mm(state.profile), state.quarters * state.quarter_mm / 2.0)
    if abs(made_mm) <= followed_mm:
        return _at(state, Stage.TRY)
    return _at(replace(state, sense=1 if made_mm > 0.0 else -1), Stage.OFFSET)


def answer(state: GuidedState, gap_mm: float | None = None) -> tuple[LogPayload, ...]:
    """The entries to log when the person has done what the present stage asks; a gap in mm where one is read.

    The reading that finds both gaps inside at last is followed by `CorrectionApplied`.
    """
    caution = state.caution
    if caution is not None:
        return (CautionAcknowledged(caution=caution.name),)
    if state.stage in STEP_OF_STAGE:
        return (STEP_OF_STAGE[state.stage],)
    end = state.gap_end
    if end is None or gap_mm is None:
        return ()
    read = GapRead(end=end, gap_mm=gap_mm, phase=PHASE_OF_STAGE[state.stage])
    after = _after_gap(state, read)
    if after.step is not None and after.step.stage is Stage.REALIGN:
        return (read, CorrectionApplied(session=state.begun.session, made_mm=after.made_mm))
    return (read,)


def to_be_resumed(state: GuidedState | None) -> bool:
    """Whether a correction taken up again has anything to be careful of: it is under way, and something was done."""
    return state is not None and state.step is not None and (state.number > 0 or bool(state.acknowledged))

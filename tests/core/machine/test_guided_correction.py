"""The guided correction as a fold: every interruption resumes where it was, whatever the machine."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.machine.directions import Direction, Side
from core.machine.gantry_correction import Correction, correction_of_skew
from core.machine.guided_correction import (
    PHASE_OF_STAGE,
    GuidedState,
    answer,
    begin,
    guided_state,
    to_be_resumed,
)
from core.machine.guided_wording import coarse_reset_sentence, sentences, title
from core.machine.holding import HowHeld
from core.machine.machine_log import (
    CautionAcknowledged,
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionResumed,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    MotorStep,
    MotorStepDone,
    StepDone,
)
from core.machine.procedure import Stage, procedure_of
from core.machine.profile import MachineProfile, Process
from core.machine.spent_coupon import spent_coupon
from core.metrology.adjustment import Estimate

ROUTER = MachineProfile(
    name="template router", span_mm=640.0, process=Process.ROUTER, held=HowHeld.SCREWS, screw_pitch_mm=1.25
)


class Bench:
    """Keeps nothing but the log and asks the fold what comes next, as a bench that is restarted after every touch."""

    def __init__(self, profile: MachineProfile, skew_deg: float = 0.3) -> None:
        self.profile = profile
        self.log: list[LogEntry] = []
        correction = correction_of_skew(Estimate(value=skew_deg, u=0.02), profile)
        assert isinstance(correction, Correction)
        self.correction = correction
        self.add(begin("session-1", correction))
        self.gaps = dict.fromkeys(profile.ends, 30.0)

    def add(self, *payloads: LogPayload) -> None:
        for payload in payloads:
            self.log.append(LogEntry(sequence=len(self.log) + 1, time_utc=None, payload=payload))

    @property
    def state(self) -> GuidedState:
        state = guided_state(self.log, self.profile)
        assert state is not None
        return state

    def do(self) -> None:
        """What a person does who is asked: answer, and read the gap where one is asked for."""
        state = self.state
        self.add(*answer(state, self.gaps[state.gap_end] if state.gap_end else None))

    def go_to(self, stage: Stage) -> None:
        for _ in range(60):
            if self.state.stage is stage:
                return
            if self.state.stage is Stage.SET:
                self.turn_to_zero()
            self.do()
        raise AssertionError(f"never came to {stage}, stands at {self.state.stage}")

    def turn_to_zero(self, share: float = 1.0) -> None:
        """Move the end until the live meter is at zero, by what the meter says."""
        end = self.state.begun.end
        reading = self.state.live(end, self.gaps[end])
        assert reading is not None
        self.gaps[end] += share * reading.gap_to_go_mm


def said_at(bench: Bench) -> str:
    return " ".join(map(str, sentences(bench.state)))


@pytest.mark.parametrize("process", Process)
@pytest.mark.parametrize(
    "held", [held for held in HowHeld if procedure_of(MachineProfile(name="", span_mm=640.0, held=held))]
)
def test_the_whole_way_for_every_kind(held: HowHeld, process: Process) -> None:
    profile = MachineProfile(
        name="m",
        span_mm=640.0,
        process=process,
        held=held,
        screw_pitch_mm=1.25,
        belt_pitch_mm=2.0,
        thinnest_shim_mm=0.1,
        steps_per_mm=80.0,
    )
    bench = Bench(profile)
    seen = []
    for _ in range(60):
        stage = bench.state.stage
        seen.append(stage)
        said = said_at(bench)
        assert said
        assert "{" not in said
        assert title(bench.state)
        if stage is Stage.DONE:
            break
        if stage in (Stage.SET, Stage.TRY, Stage.OFFSET):
            bench.turn_to_zero(0.25 if stage is Stage.TRY else 1.0)
        bench.do()
    order = [stage for stage in dict.fromkeys(seen) if stage is not Stage.CAUTIONS]
    assert order == [*(step.stage for step in procedure_of(profile)), Stage.DONE]
    assert seen[0] is Stage.CAUTIONS
    # The zero is read before anything is loosened or tried.
    kinds = [type(entry.payload).__name__ for entry in bench.log]
    touched = next(i for i, e in enumerate(bench.log) if e.payload in TOUCHED)
    assert kinds[:touched].count("GapRead") == 2
    applied = [entry.payload for entry in bench.log if isinstance(entry.payload, CorrectionApplied)]
    assert len(applied) == 1
    assert applied[0].made_mm == pytest.approx(bench.correction.move_mm.value)


TOUCHED = (StepDone(step=GuidedStep.LOOSENED), MotorStepDone(step=MotorStep.TRIED))


def test_the_gap_moves_the_way_the_correction_says() -> None:
    # Positive skew: right end nearer. Reference on the near side: the right gap closes by 640 tan 0.3 deg = 3.351 mm.
    bench = Bench(ROUTER)
    bench.go_to(Stage.LOOSEN)
    target = bench.state.target
    assert target is not None
    assert (bench.state.begun.end, bench.state.begun.direction) == (Side.RIGHT, Direction.NEARER)
    assert target.gaps.second_mm == pytest.approx(30.0 - 3.3511, abs=1e-4)
    assert target.gaps.first_mm == 30.0
    words = said_at(bench)
    assert words.startswith("Power off and unplugged. Loosen the lock nut")
    assert "The right end has 3.35 mm to go, nearer to you." in words
    assert "the gap at the right end is 26.65 mm (block 25.40 mm + leaves 1.00 + 0.25 mm)" in words
    bench.go_to(Stage.SET)
    words = said_at(bench)
    assert "equal blocks at both ends, and leaves 1.00 + 0.95 + 0.90 + 0.50 mm added at the left end" in words


def test_tightening_that_moved_it_asks_for_another_round() -> None:
    bench = Bench(ROUTER)
    bench.go_to(Stage.READ_SET)
    bench.gaps[Side.RIGHT] += 0.8
    bench.do()
    bench.do()
    assert bench.state.step is not None
    assert bench.state.step.stage is Stage.LOOSEN
    assert bench.state.rounds == 1
    meter = bench.state.meter
    assert meter is not None
    assert str(meter.text) == "0.80 mm nearer to you to go."
    assert "still off" in said_at(bench).lower()
    bench.do()
    assert "once more" in said_at(bench)
    assert "3.35" not in said_at(bench)  # what is left of the old move is no order any more
    bench.go_to(Stage.REALIGN)
    assert bench.state.rounds == 2


def test_running_it_by_hand_can_throw_it_out_again() -> None:
    bench = Bench(ROUTER)
    bench.go_to(Stage.READ_RUN)
    bench.gaps[Side.LEFT] += 0.7
    bench.do()
    bench.do()
    assert bench.state.step is not None
    assert bench.state.step.stage is Stage.LOOSEN


@pytest.mark.parametrize("kind", MachineEventKind)
def test_an_event_in_between_voids_the_number(kind: MachineEventKind) -> None:
    bench = Bench(ROUTER)
    bench.go_to(Stage.SET)
    bench.add(MachineEvent(kind=kind))
    assert bench.state.stage is Stage.VOID
    assert "cut and measure another" in said_at(bench).lower()
    assert answer(bench.state) == ()


def test_entries_out_of_turn_stay_in_the_log_and_change_nothing() -> None:
    bench = Bench(ROUTER)
    before = bench.state
    bench.add(StepDone(step=GuidedStep.LOOSENED), GapRead(end=Side.LEFT, gap_mm=12.0, phase=GapPhase.SET))
    assert bench.state == before
    bench.add(CautionAcknowledged(caution="power-off"))
    assert bench.state.acknowledged == ("power-off",)


@pytest.mark.parametrize("ending", [CorrectionAbandoned(reason="screw sheared"), None])
def test_abandoning_or_a_coarse_reset_ends_it(ending: LogPayload | None) -> None:
    bench = Bench(ROUTER)
    bench.go_to(Stage.SET)
    bench.add(ending or CorrectionApplied(session="session-1", made_mm=None, coarse=CoarseReset.SETTING_BLOCKS))
    assert guided_state(bench.log, ROUTER) is None


def test_a_coarse_reset_is_called_what_it_is() -> None:
    said = str(coarse_reset_sentence(ROUTER))
    assert "Squared to its frame: a coarse reset" in said
    assert "number is void" in said


def test_no_log_no_correction() -> None:
    assert guided_state([], ROUTER) is None


def test_every_reading_stage_knows_its_phase() -> None:
    assert set(PHASE_OF_STAGE.values()) == set(GapPhase)


def test_a_coupon_is_spent_once_its_correction_was_made() -> None:
    bench = Bench(ROUTER)
    assert not spent_coupon(bench.log, "session-1")
    bench.go_to(Stage.SET)
    assert not spent_coupon(bench.log, "session-1")
    bench.go_to(Stage.DONE)
    assert "Never correct twice" in str(spent_coupon(bench.log, "session-1"))
    assert not spent_coupon(bench.log, "session-2")


@pytest.mark.parametrize(
    ("stage", "payload", "words"),
    [
        (Stage.LOOSEN, CorrectionAbandoned(reason="lunch"), ""),
        (Stage.SET, CorrectionAbandoned(reason="lunch"), "given up"),
        (Stage.LOOSEN, MachineEvent(kind=MachineEventKind.CRASH), "crashed"),
        (Stage.LOOSEN, CorrectionApplied(session="session-1", made_mm=None, coarse=CoarseReset.ONE_GAP), "was made"),
    ],
)
def test_what_else_spends_a_coupon(stage: Stage, payload: LogPayload, words: str) -> None:
    bench = Bench(ROUTER)
    bench.go_to(stage)
    bench.add(payload)
    spent = str(spent_coupon(bench.log, "session-1"))
    assert (words in spent) if words else spent == ""


def test_an_event_after_it_was_given_up_untouched_belongs_to_the_next() -> None:
    bench = Bench(ROUTER)
    bench.add(CorrectionAbandoned(reason="lunch"), MachineEvent(kind=MachineEventKind.TOOL_CHANGE))
    assert not spent_coupon(bench.log, "session-1")


@pytest.mark.parametrize("stage", [Stage.LOOSEN, Stage.READ_SET, Stage.REALIGN, Stage.RECUT])
def test_a_correction_taken_up_again_asks_what_still_matters(stage: Stage) -> None:
    bench = Bench(ROUTER)
    bench.go_to(stage)
    before = bench.state
    assert to_be_resumed(before)
    bench.add(CorrectionResumed())
    asked = []
    while (caution := bench.state.caution) is not None:
        asked.append(caution.name)
        bench.do()
    assert asked[0] == ("hands-out" if stage is Stage.RECUT else "power-off")
    assert asked[-1] == "maker-first"
    assert bench.state.stage is stage
    assert (bench.state.latest, bench.state.untouched, bench.state.rounds) == (
        before.latest,
        before.untouched,
        before.rounds,
    )


def test_nothing_is_asked_again_where_nothing_was_begun() -> None:
    assert not to_be_resumed(None)
    bench = Bench(ROUTER)
    assert not to_be_resumed(bench.state)
    bench.go_to(Stage.DONE)
    assert not to_be_resumed(bench.state)


def test_a_correction_made_by_an_older_procedure_is_not_asked_for_again() -> None:
    """Older software asked all cautions at the start and pushed two-motor gantries: its logs end as they did."""
    profile = replace(ROUTER, held=HowHeld.TWO_MOTORS_TWO_SWITCHES)
    bench = Bench(profile)
    names = ("power-off", "stored-energy", "slowly", "blade-out", "maker-first")
    bench.add(*(CautionAcknowledged(caution=name) for name in names), StepDone(step=GuidedStep.NO_PLAY))
    for phase in GapPhase:
        bench.add(*(GapRead(end=end, gap_mm=30.0, phase=phase) for end in profile.ends))
    bench.add(CorrectionApplied(session="session-1", made_mm=3.3))
    assert bench.state.stage is Stage.REALIGN
    bench.add(StepDone(step=GuidedStep.REALIGNED), StepDone(step=GuidedStep.RECUT))
    assert bench.state.stage is Stage.DONE


def test_a_machine_found_to_be_unadjustable_meanwhile_says_so() -> None:
    bench = Bench(ROUTER)
    state = guided_state(bench.log, replace(ROUTER, held=HowHeld.NOT_ADJUSTABLE))
    assert state is not None
    assert state.stage is Stage.VOID
    assert "correct the design file" in " ".join(map(str, sentences(state)))

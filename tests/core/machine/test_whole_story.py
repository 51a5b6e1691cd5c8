"""Cut, measure, no-go, gaps, correct, re-cut, measure, go: the whole job against an independent machine."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.machine.before_after import Outcome, before_after
from core.machine.cautions import BEFORE_HANDS
from core.machine.directions import Axis, Direction, Front, Side
from core.machine.gantry_correction import Correction, Refusal, RefusalReason, gantry_correction, profile_of_span
from core.machine.guided_correction import answer, begin, guided_state
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionApplied, LogEntry, LogPayload
from core.machine.procedure import Stage
from core.machine.profile import MachineProfile, Process
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import Verdict
from core.metrology.witness import Answers, MarkSeen
from firmware_bridge.simulation.gantry import Gantry
from tests.core.metrology.known_coupons import exact_readings, shape

# Which way a move goes is proven here whatever told the skew's direction: a trial step that came as foretold.
MARK_AT_NL = Answers(mark=MarkSeen.NL, foretold=True)
# Lengths twice, against slips; corners once, as the witness.
CHECKED = (*TEN_FEATURES, *DIAGONALS, *EDGES)

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SETUP = MeasuringSetup()
Read = Callable[..., list[Reading]]


def judged(machine, read: Read, coupon: Coupon = COUPON, rng: np.random.Generator | None = None) -> Evaluation:
    readings = read(machine.cut(coupon), CHECKED, SETUP, rng)
    return evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP)


def corrected(evaluation: Evaluation, profile: MachineProfile) -> Correction:
    correction = gantry_correction(evaluation, profile, answers=MARK_AT_NL, setup=SETUP)
    assert isinstance(correction, Correction), correction
    return correction


@pytest.mark.parametrize("held", [held for held in HowHeld if held is not HowHeld.NOT_ADJUSTABLE])
@pytest.mark.parametrize("axis", Axis)
@pytest.mark.parametrize("skew_deg", [-0.9, 0.5])
@pytest.mark.parametrize("which", [0, 1])
def test_every_kind_of_machine_comes_out_square(machine_of, read: Read, held, axis, skew_deg, which) -> None:
    fronts = list(Front)
    for span_mm, size_mm in ((200.0, (60.0, 95.0)), (640.0, (120.0, 80.0)), (3000.0, (250.0, 160.0))):
        front = fronts[(which + int(span_mm)) % 4]
        free = MachineProfile(name="m", span_mm=span_mm, gantry_axis=axis, front=front, held=held)
        profile = MachineProfile(
            name="m", span_mm=span_mm, gantry_axis=axis, front=front, held=held, movable=(free.ends[which],)
        )
        coupon = Coupon(width_mm=size_mm[0], height_mm=size_mm[1])
        machine = machine_of(profile, scale_x=1.0004, scale_y=0.9993, kerf_mm=0.12)
        machine.rack(skew_deg)
        before = judged(machine, read, coupon)
        assert before.adjustment.skew_deg.value == pytest.approx(skew_deg, abs=0.01)
        correction = corrected(before, profile)
        assert correction.end is free.ends[which]
        machine.do_as_told(str(correction.text))
        after = judged(machine, read, coupon)
        assert after.adjustment.skew_deg.value == pytest.approx(0.0, abs=0.01)
        assert after.verdict is Verdict.GO


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("held", [HowHeld.SCREWS, HowHeld.TWO_MOTORS_TWO_SWITCHES, HowHeld.RAILS])
def test_the_whole_story_with_noise_and_gaps(machine_of, read: Read, held: HowHeld, seed: int) -> None:
    rng = np.random.default_rng(seed)
    profile = MachineProfile(
        name="template router",
        span_mm=640.0,
        process=Process.ROUTER,
        held=held,
        screw_pitch_mm=1.25,
        steps_per_mm=80.0,
        gap_span_mm=500.0,
    )
    machine = machine_of(profile)
    machine.rack(0.6)
    before = judged(machine, read, rng=rng)
    assert before.verdict is Verdict.NO_GO
    correction = corrected(before, profile)

    log: list[LogEntry] = []

    def add(*payloads: LogPayload) -> None:
        log.extend(LogEntry(sequence=len(log) + 1, time_utc=None, payload=payload) for payload in payloads)

    add(begin("session-1", correction))
    drifted = False
    for _ in range(80):
        state = guided_state(log, profile)
        assert state is not None
        if state.stage is Stage.DONE:
            break
        if state.stage is Stage.TRY:
            machine.move(state.begun.end.value, str(state.begun.direction.words), state.quarter_mm)
        if state.stage in (Stage.SET, Stage.OFFSET):
            end = state.begun.end
            meter = state.live(end, machine.gap(end)) if state.stage is Stage.SET else state.meter
            assert meter is not None
            machine.move(end.value, str(meter.direction.words), meter.to_go_mm * profile.span_mm / 640.0)
        if state.stage in (Stage.TIGHTEN, Stage.OFFSET) and not drifted:
            machine.move(state.begun.end.value, str(state.begun.direction.words), 0.6)  # tightening moves it, once
            drifted = True
        noise = 0.02 * float(rng.standard_normal())
        add(*answer(state, machine.gap(state.gap_end) + noise if state.gap_end else None))
    assert state.stage is Stage.DONE
    assert state.rounds == 2
    applied = [entry.payload for entry in log if isinstance(entry.payload, CorrectionApplied)]
    assert applied[0].made_mm == pytest.approx(correction.move_mm.value, abs=0.25)

    after = judged(machine, read, rng=rng)
    assert after.verdict is Verdict.GO
    proof = before_after(before, [after], correction)
    assert proof.outcome is Outcome.FIXED
    assert str(proof.text).startswith("Fixed, on one coupon")
    assert all(reading.agrees for reading in proof.foretold)
    assert "came out as foretold" in str(proof.text)
    second = judged(machine, read, rng=rng)
    both = before_after(before, [after, second], correction)
    assert both.outcome is Outcome.FIXED_ON_TWO
    assert str(both.text).startswith("Fixed, on more than one coupon")


@pytest.mark.parametrize("skew_deg", [-0.5, 0.5])
@pytest.mark.parametrize("axis", Axis)
def test_the_wrong_way_is_said_in_so_many_words(machine_of, read: Read, axis: Axis, skew_deg: float) -> None:
    profile = MachineProfile(name="template router", span_mm=640.0, gantry_axis=axis)
    machine = machine_of(profile)
    machine.rack(skew_deg)
    before = judged(machine, read)
    correction = corrected(before, profile)
    machine.do_as_told(str(correction.text), share=-1.0)
    proof = before_after(before, [judged(machine, read)], correction)
    assert proof.outcome is Outcome.WRONG_WAY
    assert "Moved the wrong way: the skew has doubled." in str(proof.text)
    assert not all(reading.agrees for reading in proof.foretold)
    # And what it says then makes it square: the same end, twice as far, the way first asked for.
    back_mm = 640.0 * abs(math.tan(math.radians(proof.skew_after_deg.value)))
    assert f"the other way. Standing at the front, move the {correction.end} end of the gantry by {back_mm:.2f} mm" in (
        str(proof.text)
    )
    assert str(BEFORE_HANDS) in str(proof.text)
    machine.move(correction.end.value, str(correction.direction.words), back_mm)
    assert judged(machine, read).verdict is Verdict.GO


@pytest.mark.parametrize(
    ("share", "outcome", "words"),
    [
        (2.0, Outcome.TOO_FAR, "the skew has changed its sign"),
        (0.4, Outcome.BETTER, "Better, but not within limits"),
        (0.0, Outcome.NO_CHANGE, "No change is proven"),
        (1.0, Outcome.FIXED, "Fixed, on one coupon"),
    ],
)
def test_other_endings(machine_of, read: Read, share: float, outcome: Outcome, words: str) -> None:
    profile = MachineProfile(name="template router", span_mm=640.0)
    machine = machine_of(profile)
    machine.rack(0.8)
    before = judged(machine, read)
    correction = corrected(before, profile)
    machine.do_as_told(str(correction.text), share=share)
    proof = before_after(before, [judged(machine, read)], correction)
    assert proof.outcome is outcome
    assert words in str(proof.text)


def of_skew(skew_deg: float, features: tuple[Feature, ...] = DIAGONALS * 2) -> Evaluation:
    readings = exact_readings(shape(skew_deg=skew_deg), features, COUPON)
    return evaluate(COUPON, readings, limits_for_class(COUPON, "mK"), SETUP)


@pytest.mark.parametrize(
    ("before", "after", "outcome"),
    [
        (of_skew(0.5), of_skew(0.01), Outcome.FIXED),
        (of_skew(0.5), of_skew(0.01, DIAGONALS), Outcome.NOT_SETTLED),
        (of_skew(0.01), of_skew(0.01, DIAGONALS), Outcome.NOT_SETTLED),
        (of_skew(0.27), of_skew(0.22), Outcome.WITHIN_NOW),
        (of_skew(0.27), of_skew(0.01), Outcome.FIXED),
        (of_skew(0.02), of_skew(0.01), Outcome.STILL_WITHIN),
    ],
)
def test_a_repair_is_proven_by_settled_words_alone(before: Evaluation, after: Evaluation, outcome: Outcome) -> None:
    """Seen: two diagonals read once each behind a correction, and the bench said FIXED, in green."""
    assert before_after(before, [after]).outcome is outcome


def test_worse_without_any_correction(machine_of, read: Read) -> None:
    machine = machine_of(MachineProfile(name="template router", span_mm=640.0))
    machine.rack(0.4)
    before = judged(machine, read)
    machine.rack(0.8)
    proof = before_after(before, [judged(machine, read)])
    assert proof.outcome is Outcome.WORSE
    assert proof.foretold == ()


def lying(skew_deg: float, burnt_mm: float = 0.0) -> Evaluation:
    """A coupon of this skew by its own mark, the ends of its diagonal NL-FR burnt by so much, both read twice."""
    readings = exact_readings(shape(skew_deg=skew_deg), DIAGONALS * 2, COUPON)
    burnt = [replace(r, value=r.value - burnt_mm) if r.feature is Feature.NL_FR else r for r in readings]
    return evaluate(COUPON, burnt, limits_for_class(COUPON, "mK"), SETUP)


def test_a_design_turned_between_the_cuts_turns_the_coupons_skew_and_not_the_machines() -> None:
    """Seen: a machine put right was told it had been moved the wrong way, and ordered to move farther."""
    profile = MachineProfile(name="template router", span_mm=640.0)
    moved = gantry_correction(lying(0.5), profile, answers=Answers(mark=MarkSeen.NR, names_confirmed=True))
    assert isinstance(moved, Correction)
    both_turned = before_after(lying(0.5), [lying(0.02)], moved, [MarkSeen.NR, MarkSeen.NR])
    assert both_turned.outcome is Outcome.FIXED
    one_turned = before_after(lying(0.5), [lying(-0.3)], moved, [MarkSeen.NR, MarkSeen.NL])
    assert (one_turned.outcome, one_turned.foretold) == (Outcome.BETTER, ())
    assert one_turned.skew_before_deg.value == pytest.approx(-0.5, abs=0.01)


def test_two_coupons_of_a_design_turned_by_a_quarter_tell_skew_from_burning() -> None:
    """Half the sum is the machine's, half the difference the design's: 0.3 mm of burning is 0.129 degrees here."""
    straight, turned = lying(0.2, burnt_mm=0.3), lying(-0.2, burnt_mm=0.3)
    text = str(before_after(straight, [turned], marks=[MarkSeen.NL, MarkSeen.NR]).text)
    assert "the machine's skew is +0.200 ± " in text
    assert "unequally burnt corners feign −0.129 ± " in text
    assert "feign" not in str(before_after(straight, [straight], marks=[MarkSeen.NL, MarkSeen.NL]).text)


def refusal_of(readings: list[Reading], coupon: Coupon = COUPON, answers: Answers = MARK_AT_NL) -> RefusalReason:
    evaluation = evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP)
    refusal = gantry_correction(evaluation, profile_of_span(640.0), answers=answers)
    assert isinstance(refusal, Refusal)
    assert str(refusal.text).startswith("No correction")
    return refusal.reason


def test_no_correction_on_evidence_that_cannot_carry_it(machine_of, read: Read) -> None:
    machine = machine_of(profile_of_span(640.0))
    machine.rack(0.9)
    corners = machine.cut(COUPON)
    all_ten = read(corners, CHECKED, SETUP)
    assert refusal_of(all_ten, answers=Answers()) is RefusalReason.MARK_NOT_CONFIRMED
    assert refusal_of(read(corners, EDGES + DIAGONALS, SETUP)) is RefusalReason.NOT_CROSS_CHECKED
    blunder = [replace(r, value=r.value + 4.0) if r.feature is Feature.NR else r for r in all_ten]
    assert refusal_of(blunder) is RefusalReason.INCONSISTENT
    # Lengths read, then turned over, then the angles: the sign of the skew is anybody's guess.
    turned = {Feature.NL: Feature.NR, Feature.NR: Feature.NL, Feature.FR: Feature.FL, Feature.FL: Feature.FR}
    over = [replace(r, feature=turned.get(r.feature, r.feature)) for r in all_ten]
    assert refusal_of(over) is RefusalReason.SIGN_OPEN


def test_a_skew_that_is_not_proven_moves_nothing(machine_of, read: Read) -> None:
    machine = machine_of(profile_of_span(640.0))
    machine.rack(0.02)
    assert refusal_of(read(machine.cut(COUPON), CHECKED, SETUP)) is RefusalReason.NOT_SIGNIFICANT


@pytest.mark.parametrize("skew_deg", [-0.7, 0.35])
def test_the_bench_simulation_turns_the_same_way(skew_deg: float) -> None:
    """The simulated machine that the bench cuts from agrees on what 'right end nearer' does."""
    gantry = Gantry(skew_deg=skew_deg)
    rng = random.Random(4)

    def judged_cut(machine: Gantry) -> Evaluation:
        coupon = machine.cut(COUPON, rng)
        readings = [
            Reading(feature=f, value=coupon.true_value(f), unit=Unit.MM if f.is_length else Unit.DEG) for f in CHECKED
        ]
        return evaluate(COUPON, readings, limits_for_class(COUPON, "mK"), SETUP)

    before = judged_cut(gantry)
    assert before.verdict is Verdict.NO_GO
    correction = corrected(before, profile_of_span(gantry.span_mm))
    assert correction.end is Side.RIGHT
    nearer_mm = correction.move_mm.value if correction.direction is Direction.NEARER else -correction.move_mm.value
    racked_mm = gantry.span_mm * math.tan(math.radians(gantry.skew_deg)) - nearer_mm
    after = judged_cut(replace(gantry, skew_deg=math.degrees(math.atan2(racked_mm, gantry.span_mm))))
    assert after.verdict is Verdict.GO
    assert before_after(before, [after], correction).outcome is Outcome.FIXED

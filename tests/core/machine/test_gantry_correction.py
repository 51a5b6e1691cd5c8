"""Amounts, ends, directions, units; signs by the independent machine, moved as a person would who read the text."""

from __future__ import annotations

import math

import pytest

from core.machine.directions import Axis, Direction, Front, Side
from core.machine.gantry_correction import (
    Correction,
    Refusal,
    RefusalReason,
    correction_of_skew,
    profile_of_span,
)
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.adjustment import Estimate


@pytest.mark.parametrize("front", Front)
@pytest.mark.parametrize("axis", Axis)
@pytest.mark.parametrize("held", [held for held in HowHeld if held is not HowHeld.NOT_ADJUSTABLE])
@pytest.mark.parametrize("skew_deg", [-1.2, -0.15, 0.15, 1.2])
@pytest.mark.parametrize("which", [0, 1, None])
def test_doing_as_told_makes_the_machine_square(
    machine_of, front: Front, axis: Axis, held: HowHeld, skew_deg: float, which: int | None
) -> None:
    for span_mm in (200.0, 640.0, 3000.0):
        free = MachineProfile(name="m", span_mm=span_mm, gantry_axis=axis, front=front, held=held)
        movable = () if which is None else (free.ends[which],)
        profile = MachineProfile(name="m", span_mm=span_mm, gantry_axis=axis, front=front, held=held, movable=movable)
        correction = correction_of_skew(Estimate(value=skew_deg, u=0.01), profile)
        assert isinstance(correction, Correction)
        if which is not None:
            assert correction.end is free.ends[which]
        machine = machine_of(profile)
        machine.rack(skew_deg)
        assert machine.skew_deg == pytest.approx(skew_deg)
        machine.do_as_told(str(correction.text))
        assert abs(machine.skew_deg) < math.degrees(0.0051 / span_mm)  # the text rounds to 0.01 mm


def test_doing_the_opposite_doubles_the_skew(machine_of) -> None:
    profile = profile_of_span(640.0)
    correction = correction_of_skew(Estimate(value=0.3, u=0.01), profile)
    assert isinstance(correction, Correction)
    machine = machine_of(profile)
    machine.rack(0.3)
    machine.do_as_told(str(correction.text), share=-1.0)
    assert machine.skew_deg == pytest.approx(0.6, abs=0.002)


def test_the_house_example_in_words() -> None:
    correction = correction_of_skew(Estimate(value=0.15, u=0.02), profile_of_span(640.0))
    assert isinstance(correction, Correction)
    # 640 tan 0.15 deg = 1.6755 mm; U = 1.96 x 640 x 0.02 deg in rad = 0.4379 mm; 400 tan 0.15 deg = 1.0472 mm
    assert correction.move_mm.value == pytest.approx(1.67552, abs=1e-5)
    assert correction.move_mm.u == pytest.approx(0.22340, abs=1e-4)
    assert (correction.end, correction.direction) == (Side.RIGHT, Direction.NEARER)
    assert str(correction.text) == (
        "Standing at the front, move the right end of the gantry by 1.68 ± 0.44 mm nearer to you, or the left end "
        "farther from you by as much. Power off and unplugged, cutter out. The maker's instructions, local codes and "
        "licensed practice first. In feelers: leaves 1.00 + 0.70 mm, or about 17 sheets of "
        "office paper. "
        "On a side of 400 mm the skew is 1.05 ± 0.27 mm."
    )


@pytest.mark.parametrize(
    ("held", "given", "words", "settable_mm"),
    [
        # ISO 261 coarse pitch of M8: 1.25 mm; 1.6755 mm are 1.34 turns, 16 twelfths = 1.6667 mm
        (HowHeld.SCREWS, {"screw_pitch_mm": 1.25}, "1.34 turns of the screw (pitch 1.25 mm)", 16 / 12 * 1.25),
        (HowHeld.SCREWS, {"screw_pitch_mm": 1.25}, "1 turn and 4/12", 16 / 12 * 1.25),
        (HowHeld.CROSS_SHAFT_TEETH, {"belt_pitch_mm": 2.0}, "only whole teeth can be moved: 1 tooth, 2.00 mm", 2.0),
        (HowHeld.BELT_CLAMPS, {"belt_pitch_mm": 3.0}, "0.56 teeth of the belt", 3.0),
        (HowHeld.SHIMS, {"thinnest_shim_mm": 0.1}, "In shims of 0.1 mm: 1.70 mm in all", 1.7),
        (HowHeld.TWO_MOTORS_TWO_SWITCHES, {"steps_per_mm": 80.0}, "134 steps of the right motor, 1.675 mm", 1.675),
        (HowHeld.TWO_MOTORS_ONE_SWITCH, {"steps_per_mm": 80.0}, "134 steps of the right motor", 1.675),
    ],
)
def test_own_units(held: HowHeld, given: dict[str, float], words: str, settable_mm: float) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=held, **given)  # type: ignore[arg-type]
    correction = correction_of_skew(Estimate(value=0.15, u=0.02), profile)
    assert isinstance(correction, Correction)
    assert words in str(correction.text)
    assert correction.settable_mm == pytest.approx(settable_mm)
    left = math.degrees(math.atan((640.0 * math.tan(math.radians(0.15)) - settable_mm) / 640.0))
    assert correction.left_skew_deg == pytest.approx(left, abs=1e-9)


def test_what_the_least_count_leaves_has_the_sign_of_the_next_coupon(machine_of) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=HowHeld.CROSS_SHAFT_TEETH, belt_pitch_mm=2.0)
    correction = correction_of_skew(Estimate(value=-0.15, u=0.02), profile)
    assert isinstance(correction, Correction)
    machine = machine_of(profile)
    machine.rack(-0.15)
    machine.do_as_told(str(correction.text).replace("1.68 ±", "2.00 ±"))  # one whole tooth
    assert machine.skew_deg == pytest.approx(correction.left_skew_deg, abs=1e-6)
    assert correction.left_skew_deg > 0.0
    assert "cannot take out 0.32 mm over the span, a skew of +0.029°" in str(correction.text)


@pytest.mark.parametrize(
    ("skew_deg", "held", "given", "reason", "words"),
    [
        (0.03, HowHeld.SCREWS, {}, RefusalReason.NOT_SIGNIFICANT, "too small for this measurement"),
        (0.045, HowHeld.SCREWS, {}, RefusalReason.NOT_SIGNIFICANT, "sure of its direction"),
        (0.08, HowHeld.CROSS_SHAFT_TEETH, {"belt_pitch_mm": 2.0}, RefusalReason.LEAST_COUNT, "stop here"),
        (0.30, HowHeld.NOT_ADJUSTABLE, {}, RefusalReason.NOT_ADJUSTABLE, "Correct the design file"),
    ],
)
def test_refusals(skew_deg: float, held: HowHeld, given: dict[str, float], reason: RefusalReason, words: str) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=held, **given)  # type: ignore[arg-type]
    refusal = correction_of_skew(Estimate(value=skew_deg, u=0.02), profile)
    assert isinstance(refusal, Refusal)
    assert refusal.reason is reason
    assert words in str(refusal.text)


def test_a_skew_factor_in_the_controller_is_never_corrected_twice() -> None:
    profile = MachineProfile(name="m", span_mm=640.0, controller_skew_set=True, front_words="the side with the door")
    correction = correction_of_skew(Estimate(value=0.3, u=0.02), profile)
    assert isinstance(correction, Correction)
    assert "never both" in str(correction.text)
    assert "the front is the side with the door" in str(correction.text)

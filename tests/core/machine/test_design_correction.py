"""The design correction from measured coupons: a corrected coupon comes out square on the same machine."""

from __future__ import annotations

import math

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.machine.design_correction import DesignCorrection, design_correction
from core.machine.directions import Axis
from core.machine.gantry_correction import Refusal, RefusalReason
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.readings import Reading
from core.metrology.tolerances import limits_for_class
from core.metrology.witness import Answers, MarkSeen

MARK_AT_NL = Answers(mark=MarkSeen.NL)
CHECKED = (*TEN_FEATURES, *DIAGONALS, *EDGES)

SETUP = MeasuringSetup()
PLAIN = Coupon(width_mm=120.0, height_mm=80.0)
WINDOWED = Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=40.0)
PROFILE = MachineProfile(name="m", span_mm=640.0)


def judged(machine, read, coupon: Coupon, features: tuple[Feature, ...] = CHECKED) -> Evaluation:
    readings = read(machine.cut(coupon), features, SETUP)
    if coupon.window_width_mm and coupon.window_height_mm:
        cos = math.cos(math.radians(machine.skew_deg))
        for feature, size_mm, scale in (
            (Feature.WINDOW_WIDTH, coupon.window_width_mm, machine.scale_x),
            (Feature.WINDOW_HEIGHT, coupon.window_height_mm, machine.scale_y),
        ):
            readings.append(Reading(feature=feature, value=(size_mm * scale + machine.kerf_mm) * cos))
    return evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP)


def corners_as_cut(machine, correction: DesignCorrection, coupon: Coupon) -> list[complex]:
    """The corrected coupon's corners cut by the machine's own motions (kerf made up for elsewhere)."""
    x_motion, y_motion = machine.directions
    half_w, half_h = coupon.width_mm / 2.0, coupon.height_mm / 2.0
    corners = []
    for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        x, y = correction.matrix.apply((sx * half_w, sy * half_h))
        corners.append(x * machine.scale_x * x_motion + y * machine.scale_y * y_motion)
    return corners


@pytest.mark.parametrize("axis", Axis)
@pytest.mark.parametrize("skew_deg", [-0.8, 0.5])
def test_skew_always(machine_of, read, axis: Axis, skew_deg: float) -> None:
    machine = machine_of(MachineProfile(name="m", span_mm=640.0, gantry_axis=axis))
    machine.rack(skew_deg)
    correction = design_correction(judged(machine, read, PLAIN), PROFILE, answers=MARK_AT_NL)
    assert isinstance(correction, DesignCorrection)
    assert correction.scale_x is None
    readings = read(corners_as_cut(machine, correction, PLAIN), TEN_FEATURES, SETUP)
    after = evaluate(PLAIN, readings, limits_for_class(PLAIN, "mK"), SETUP).adjustment
    assert after.skew_deg.value == pytest.approx(0.0, abs=0.01)
    assert after.scale_x.value == pytest.approx(0.0, abs=1e-4)
    assert "cannot be told from kerf" in str(correction.text)
    assert "letters lean and circles are ellipses" in str(correction.text)


def test_scales_only_when_a_window_told_them_from_kerf(machine_of, read) -> None:
    faults = {"scale_x": 1.005, "scale_y": 0.996, "kerf_mm": 0.25}
    machine = machine_of(MachineProfile(name="m", span_mm=640.0), **faults)
    machine.rack(0.5)
    blind = design_correction(judged(machine, read, PLAIN), PROFILE, answers=MARK_AT_NL)
    assert isinstance(blind, DesignCorrection)
    assert blind.scale_x is None
    told = design_correction(judged(machine, read, WINDOWED), PROFILE, answers=MARK_AT_NL)
    assert isinstance(told, DesignCorrection)
    assert told.scale_x is not None
    assert told.scale_x.value == pytest.approx(0.005, abs=3e-4)
    corners = corners_as_cut(machine, told, WINDOWED)
    assert abs(corners[1] - corners[0]) == pytest.approx(120.0, abs=0.05)
    assert abs(corners[3] - corners[0]) == pytest.approx(80.0, abs=0.05)
    assert "X +0.5" in str(told.text)


def test_refusals(machine_of, read) -> None:
    machine = machine_of(PROFILE)
    square = design_correction(judged(machine, read, PLAIN), PROFILE, answers=MARK_AT_NL)
    machine.rack(0.5)
    unmarked = design_correction(judged(machine, read, PLAIN), PROFILE, answers=Answers())
    unchecked = design_correction(judged(machine, read, PLAIN, DIAGONALS), PROFILE, answers=MARK_AT_NL)
    factor = MachineProfile(name="m", span_mm=640.0, controller_skew_set=True)
    twice = design_correction(judged(machine, read, PLAIN), factor, answers=MARK_AT_NL)
    reasons = [refusal.reason for refusal in (square, unmarked, unchecked, twice) if isinstance(refusal, Refusal)]
    assert reasons == [
        RefusalReason.NOT_SIGNIFICANT,
        RefusalReason.MARK_NOT_CONFIRMED,
        RefusalReason.NOT_CROSS_CHECKED,
        RefusalReason.CORRECTED_ELSEWHERE,
    ]

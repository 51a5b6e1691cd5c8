"""Both skews begin at the solution by all readings: they must be what an adjustment of their own readings finds."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, TEN_FEATURES
from core.geometry.seats import keyed_seats
from core.metrology.adjustment import adjust
from core.metrology.two_skews import ROUGHLY_SDS, rough_skews, surely_agree, two_skews
from tests.core.metrology.known_coupons import HOUSE, SETUP
from tests.core.metrology.simulated_readings import random_truth, simulate

KEYED = replace(HOUSE, seats=keyed_seats(HOUSE.width_mm, HOUSE.height_mm))


@pytest.mark.parametrize("coupon", [HOUSE, KEYED], ids=["corners", "keyed"])
def test_both_skews_are_those_of_an_adjustment_without_the_other_readings(coupon: Coupon) -> None:
    """The same to 1e-9 degrees, and their uncertainties to five figures: the Jacobian may be one tiny step old."""
    rng = np.random.default_rng(15)
    for _ in range(25):
        readings = simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=coupon)
        both = two_skews(adjust(coupon, readings, SETUP), SETUP)
        for found, left_out in ((both.lengths, CORNERS), (both.corners, DIAGONALS)):
            alone = adjust(coupon, [r for r in readings if r.feature not in left_out], SETUP).skew_deg
            assert found is not None
            assert found.value == pytest.approx(alone.value, abs=1e-9)
            assert found.u == pytest.approx(alone.u, rel=1e-5)


def test_they_are_worked_out_once_an_adjustment() -> None:
    rng = np.random.default_rng(15)
    fit = adjust(HOUSE, simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=HOUSE), SETUP)
    assert {reading.feature for reading in fit.readings} == set(TEN_FEATURES)
    assert two_skews(fit, SETUP) is two_skews(fit, SETUP)


@pytest.mark.parametrize("coupon", [HOUSE, KEYED], ids=["corners", "keyed"])
def test_what_surely_agrees_does_and_most_that_agrees_is_sure(coupon: Coupon) -> None:
    """By the slopes alone nothing is let through that both ways' own adjustments call different, however far off one
    corner or diagonal was read, and little that agrees is worked out twice."""
    rng = np.random.default_rng(16)
    sure = agreeing = 0
    for case in range(200):
        readings = simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=coupon)
        place, off = int(rng.integers(4, 10)), float(rng.normal(0.0, 1.5 * (case % 4)))
        readings[place] = replace(readings[place], value=readings[place].value + off)
        fit = adjust(coupon, readings, SETUP)
        agree = not two_skews(fit, SETUP).disagree
        assert agree or not surely_agree(fit, SETUP)
        agreeing += agree
        sure += surely_agree(fit, SETUP)
    assert agreeing < 190
    assert sure > 0.8 * agreeing


@pytest.mark.parametrize("coupon", [HOUSE, KEYED], ids=["corners", "keyed"])
def test_rough_skews_are_as_good_as_they_are_said_to_be(coupon: Coupon) -> None:
    """To half of it: values, U95, and the uncertainty of the difference times the largest factor it is used with, on
    coupons with a feature read off by up to a degree or more, where some are too far off and are worked out."""
    rng = np.random.default_rng(17)
    worked_out = 0
    for case in range(200):
        readings = simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=coupon)
        place, off = int(rng.integers(4, 10)), float(rng.normal(0.0, 0.5 * (case % 4)))
        readings[place] = replace(readings[place], value=readings[place].value + off)
        fit = adjust(coupon, readings, SETUP)
        rough, both = rough_skews(fit, SETUP), two_skews(fit, SETUP)
        worked_out += rough is both
        assert both.joint_u_deg is not None
        assert rough.joint_u_deg is not None
        allowed_deg = ROUGHLY_SDS * both.joint_u_deg / 2.0
        assert 3.6 * rough.joint_u_deg == pytest.approx(3.6 * both.joint_u_deg, abs=allowed_deg)
        for roughly, exactly in ((rough.lengths, both.lengths), (rough.corners, both.corners)):
            assert roughly is not None
            assert exactly is not None
            assert roughly.value == pytest.approx(exactly.value, abs=allowed_deg)
            assert abs(roughly.U95 - exactly.U95) <= allowed_deg
    assert 20 < worked_out < 70

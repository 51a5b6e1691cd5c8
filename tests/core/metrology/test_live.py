"""The live comparison of an indication with the feature at its cursor."""

from __future__ import annotations

import math

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.live import LiveState, better_fit, compare, is_inch_for_mm, is_plausible, live_limit
from core.metrology.tolerances import Limits

COUPON = Coupon(width_mm=120, height_mm=80)
LIMITS = Limits(source="own limits", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4)


def stand(feature: Feature, value: float) -> LiveState:
    return compare(COUPON, LIMITS, MeasuringSetup(), feature, value, None)


def test_closed_jaws_are_plausible_for_nothing() -> None:
    assert not any(is_plausible(COUPON, feature, 0.0) for feature in TEN_FEATURES)


def test_a_diagonal_given_for_an_edge_is_seen() -> None:
    others = (Feature.LEFT, Feature.NL_FR)
    assert better_fit(COUPON, Feature.NEAR, 144.3, others, None) is Feature.NL_FR
    assert better_fit(COUPON, Feature.NEAR, 119.6, others, None) is None


def test_a_caliper_switched_to_inch_is_seen() -> None:
    assert is_inch_for_mm(COUPON, Feature.NEAR, 4.72)
    assert not is_inch_for_mm(COUPON, Feature.NEAR, 119.9)
    assert not is_inch_for_mm(COUPON, Feature.NL, 3.54)


def test_a_rectangle_racked_to_its_limit_has_diagonals_and_corners_at_theirs() -> None:
    """Law of cosines and the definition of perpendicularity, worked on a parallelogram at the limit."""
    cosine = 0.4 / 80.0
    diagonal_mm = math.sqrt(120.0**2 + 80.0**2 + 2 * 120.0 * 80.0 * cosine)
    limit_mm, limit_deg = live_limit(COUPON, LIMITS, Feature.NL_FR), live_limit(COUPON, LIMITS, Feature.NL)
    assert limit_mm == pytest.approx(diagonal_mm - COUPON.diagonal_mm, abs=0.001)
    assert limit_deg == pytest.approx(90.0 - math.degrees(math.acos(cosine)), abs=1e-9)


def test_the_lamp_goes_from_inside_over_cannot_be_told_to_outside() -> None:
    assert stand(Feature.NEAR, 120.05) is LiveState.INSIDE
    assert stand(Feature.NEAR, 120.29) is LiveState.NEAR_LIMIT
    assert stand(Feature.NEAR, 119.50) is LiveState.OUTSIDE
    assert stand(Feature.NEAR, 60.0) is LiveState.FAR


def test_without_a_limit_nothing_is_judged() -> None:
    none = Limits(source="own limits")
    assert compare(COUPON, none, MeasuringSetup(), Feature.NL, 90.0, None) is LiveState.UNJUDGED

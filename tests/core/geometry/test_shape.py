"""The five-parameter shape: signs, exact geometry, and the analytic Jacobian against central differences."""

import math

import numpy as np
import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.shape import corners_mm, scale_y, skew_deg, true_features

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SHAPES = np.random.default_rng(2).normal(0.0, 0.02, (20, 5))


def value_of(feature: Feature, shape: np.ndarray) -> float:
    return float(true_features(COUPON, shape)[0][TEN_FEATURES.index(feature)])


def test_nominal_shape_has_nominal_features() -> None:
    values, _ = true_features(COUPON, np.zeros(5))
    assert values == pytest.approx([COUPON.nominal(feature) for feature in TEN_FEATURES], abs=1e-12)


@pytest.mark.parametrize("shape", SHAPES)
def test_features_are_those_of_the_corner_points(shape: np.ndarray) -> None:
    corner = [complex(x, y) for x, y in corners_mm(COUPON, shape)]

    def angle(at: int, first: int, second: int) -> float:
        turn = (corner[second] - corner[at]) / (corner[first] - corner[at])
        return math.degrees(math.atan2(turn.imag, turn.real))

    expected = [abs(corner[j] - corner[i]) for i, j in ((0, 1), (1, 2), (3, 2), (0, 3), (0, 2), (1, 3))]
    expected += [angle(0, 1, 3), angle(1, 2, 0), angle(2, 3, 1), angle(3, 0, 2)]
    values, _ = true_features(COUPON, shape)
    assert values == pytest.approx(expected, abs=1e-10)
    assert sum(values[6:]) == pytest.approx(360.0, abs=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
def test_jacobian_agrees_with_central_differences(shape: np.ndarray) -> None:
    h = 1e-5
    _, jacobian = true_features(COUPON, shape)
    for k, unit in enumerate(np.eye(5)):
        slope = (true_features(COUPON, shape + h * unit)[0] - true_features(COUPON, shape - h * unit)[0]) / (2 * h)
        assert jacobian[:, k] == pytest.approx(slope, abs=1e-5)
        for function in (skew_deg, scale_y):
            numeric = (function(shape + h * unit)[0] - function(shape - h * unit)[0]) / (2 * h)
            assert function(shape)[1][k] == pytest.approx(numeric, abs=1e-6)


def test_positive_skew_makes_nl_and_fr_acute_and_nl_fr_the_longer() -> None:
    racked = np.array([0.0, 0.0, math.tan(math.radians(0.5)), 0.0, 0.0])
    assert skew_deg(racked)[0] == pytest.approx(0.5)
    assert value_of(Feature.NL, racked) == pytest.approx(89.5)
    assert value_of(Feature.FR, racked) == pytest.approx(89.5)
    assert value_of(Feature.NL_FR, racked) > value_of(Feature.NR_FL, racked)


def test_purely_racked_gantry_shows_no_scale() -> None:
    skew = math.radians(1.0)
    racked = np.array([0.0, math.cos(skew) - 1.0, math.sin(skew), 0.0, 0.0])
    assert scale_y(racked)[0] == pytest.approx(0.0, abs=1e-15)


def test_positive_tapers_make_far_and_right_longer() -> None:
    tapered = np.array([0.0, 0.0, 0.0, 0.01, 0.02])
    assert value_of(Feature.FAR, tapered) > value_of(Feature.NEAR, tapered)
    assert value_of(Feature.RIGHT, tapered) > value_of(Feature.LEFT, tapered)

"""Readings of another coupon than the one entered are told from misreadings and from the named explanations."""

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, Feature
from core.metrology.plausible_size import likely_size
from tests.core.metrology.known_coupons import HOUSE, exact_readings, reading, shape


def test_readings_of_this_coupon_are_of_this_coupon():
    assert likely_size(HOUSE, exact_readings(shape(skew_deg=2.0, scale_x=0.05))) is None


@pytest.mark.parametrize(
    ("entered", "feature"),
    [
        (Coupon(width_mm=100.0, height_mm=70.0), Feature.NEAR),
        (Coupon(width_mm=120.0, height_mm=100.0), Feature.LEFT),
        (Coupon(width_mm=1200.0, height_mm=800.0), Feature.NEAR),
    ],
)
def test_another_size_is_told_with_the_first_feature_that_says_so(entered, feature):
    likely = likely_size(entered, exact_readings(shape()))
    assert likely is not None
    assert (likely.width_mm, likely.height_mm) == (pytest.approx(120.0), pytest.approx(80.0))
    assert likely.feature is feature


def test_a_quarter_turn_and_inches_are_left_to_the_explanations():
    assert likely_size(Coupon(width_mm=80.0, height_mm=120.0), exact_readings(shape())) is None
    inches = [reading(r.feature, r.value / 25.4) for r in exact_readings(shape(), EDGES + DIAGONALS)]
    assert likely_size(HOUSE, inches) is None


@pytest.mark.parametrize("wrong_mm", [60.0, 97.0, 4.72])
def test_one_misread_edge_is_no_size(wrong_mm):
    readings = [reading(Feature.NEAR, wrong_mm), *exact_readings(shape())[1:]]
    assert likely_size(HOUSE, readings) is None


def test_edges_that_the_diagonals_do_not_believe_are_no_size():
    readings = [reading(r.feature, r.value * 1.2) if r.feature in EDGES else r for r in exact_readings(shape())]
    assert likely_size(HOUSE, readings) is None


def test_a_wide_kerf_on_a_small_coupon_is_no_other_size():
    small = Coupon(width_mm=16.0, height_mm=12.0)
    assert likely_size(small, exact_readings(shape(scale_x=-2 / 16, scale_y=-2 / 12), coupon=small)) is None


def test_half_the_edges_cannot_tell():
    assert likely_size(HOUSE, exact_readings(shape(), (Feature.NEAR, Feature.LEFT))) is None

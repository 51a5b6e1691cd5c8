"""Where things lie on the drawing, and that what is drawn is what was measured, times the factor that is shown."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from tests.ui.scenes import COUPON, RACKED, readings, snapshot
from ui.touch.widgets.sheet_geometry import ENDS, corner_deviations_mm, corner_ellipse, lay_out

AREA = (396.0, 320.0)
SHEET = lay_out(COUPON, AREA, scale=1.0, target_px=51.0, limit_mm=0.33)


@given(
    width=st.floats(10, 4000),
    height=st.floats(10, 4000),
    area=st.tuples(st.floats(300, 1200), st.floats(250, 1200)),
    limit=st.none() | st.floats(0.01, 8),
)
def test_everything_stays_on_the_area(
    width: float, height: float, area: tuple[float, float], limit: float | None
) -> None:
    sheet = lay_out(Coupon(width_mm=width, height_mm=height), area, scale=1.0, target_px=51.0, limit_mm=limit)
    for feature in TEN_FEATURES:
        x, y = sheet.label_centre(feature)
        assert 20 <= x <= area[0] - 20
        assert 15 <= y <= area[1] - 15
    assert sheet.factor >= 1


@pytest.mark.parametrize("feature", TEN_FEATURES)
def test_the_value_of_a_feature_is_its_button(feature: Feature) -> None:
    assert SHEET.target_at(SHEET.label_centre(feature)) is feature


@pytest.mark.parametrize("edge", EDGES)
def test_the_middle_of_an_edge_is_its_button(edge: Feature) -> None:
    start, end = (SHEET.corner(corner) for corner in ENDS[edge])
    assert SHEET.target_at(((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)) is edge


def test_a_deviation_is_drawn_times_the_factor() -> None:
    tip, nominal = SHEET.length_tip(Feature.NEAR, 0.2), SHEET.dimension_line(Feature.NEAR)[1]
    assert tip[0] - nominal[0] == pytest.approx(0.2 * SHEET.px_per_mm * SHEET.factor)
    assert tip[1] == nominal[1]


@pytest.mark.parametrize("diagonal", DIAGONALS)
def test_a_longer_diagonal_ends_farther_out(diagonal: Feature) -> None:
    start, end = SHEET.dimension_line(diagonal)
    assert math.dist(start, SHEET.length_tip(diagonal, 0.1)) > math.dist(start, end)


@pytest.mark.parametrize("corner", CORNERS)
def test_an_acute_corner_leans_inwards(corner: Feature) -> None:
    square, acute = SHEET.corner_ray(corner, 0.0), SHEET.corner_ray(corner, -0.3)
    middle = SHEET.left + SHEET.width / 2
    assert abs(acute[0] - middle) < abs(square[0] - middle)


def test_the_zone_holds_what_is_inside_the_limit() -> None:
    zone = SHEET.length_zone(Feature.NEAR, 0.3)
    left, right = min(x for x, _ in zone), max(x for x, _ in zone)
    assert left < SHEET.length_tip(Feature.NEAR, -0.29)[0]
    assert SHEET.length_tip(Feature.NEAR, 0.29)[0] < right
    assert SHEET.length_tip(Feature.NEAR, 0.31)[0] > right


def test_the_best_fit_of_a_racked_coupon_leans_as_it_was_cut() -> None:
    """Positive skew: the far edge lies to the right, by half of height times tan(skew) from the middle."""
    fit = snapshot(readings(RACKED, TEN_FEATURES)).evaluation.adjustment
    deviations = corner_deviations_mm(fit)
    assert deviations[Feature.FR][0] == pytest.approx(RACKED[2] * 40.0 + RACKED[0] * 60.0, abs=0.05)
    assert deviations[Feature.NL][0] == pytest.approx(-RACKED[2] * 40.0 - RACKED[0] * 60.0, abs=0.05)


def test_more_readings_make_the_region_of_a_corner_smaller() -> None:
    few = snapshot(readings(RACKED, DIAGONALS + EDGES)).evaluation.adjustment
    many = snapshot(readings(RACKED, TEN_FEATURES + DIAGONALS)).evaluation.adjustment
    sizes = [max(corner_ellipse(SHEET, fit, Feature.FR).half_axes) for fit in (few, many)]
    assert sizes[1] < sizes[0]


@pytest.mark.parametrize(("width", "height", "so"), [(120.0, 80.0, True), (40.0, 300.0, False), (600.0, 30.0, False)])
def test_a_strip_drawn_wider_than_it_is_says_so(width: float, height: float, so: bool) -> None:
    sheet = lay_out(Coupon(width_mm=width, height_mm=height), (400, 370), scale=1.0, target_px=51.0, limit_mm=0.3)
    assert sheet.in_proportion is so
    assert (sheet.width / sheet.height == pytest.approx(width / height, rel=0.02)) is so

"""The inner window on the drawing: true inside the coupon, its two sizes clear of everything else and each a button."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, strategies as st

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, WINDOW, Feature, FeatureKind
from tests.ui.scenes import COUPON, WINDOWED
from ui.touch.widgets.figure_geometry import Figure, place_figure

AREA = (396.0, 306.0)
# Of the drawing on the screen of all numbers, the smallest there is.
SMALL_AREA = (335.0, 300.0)
TARGET_PX = 51.0  # 9 mm on a 7-inch panel of 800 x 480
BOX_HALF = {FeatureKind.DIAGONAL: (31.0, 16.0), FeatureKind.WINDOW: (32.0, 16.0)}


def figure_of(width: float, height: float, window: tuple[float, float], area: tuple[float, float] = AREA) -> Figure:
    coupon = Coupon(width_mm=width, height_mm=height, window_width_mm=window[0], window_height_mm=window[1])
    return place_figure(coupon, area, depth_mm=8.0, scale=1.0, target_px=51.0, result=True)


FIGURE = figure_of(120.0, 80.0, (60.0, 40.0))


def test_a_coupon_without_a_window_shows_none() -> None:
    assert place_figure(COUPON, AREA, depth_mm=8.0, scale=1.0, target_px=51.0).window is None
    assert COUPON.features == TEN_FEATURES
    assert WINDOWED.features == TEN_FEATURES + WINDOW


@given(
    width=st.floats(10, 4000),
    height=st.floats(10, 4000),
    shares=st.tuples(st.floats(0.05, 0.95), st.floats(0.05, 0.95)),
)
def test_the_opening_is_as_true_as_the_coupon_and_in_its_middle(
    width: float, height: float, shares: tuple[float, float]
) -> None:
    figure = figure_of(width, height, (width * shares[0], height * shares[1]))
    left, bottom, across, up = figure.window.opening
    assert across / figure.width == pytest.approx(shares[0])
    assert up / figure.height == pytest.approx(shares[1])
    assert left + across / 2 == pytest.approx(figure.left + figure.width / 2)
    assert bottom + up / 2 == pytest.approx(figure.bottom + figure.height / 2)


def test_a_dimension_line_runs_from_side_to_side_of_the_opening() -> None:
    left, bottom, across, up = FIGURE.window.opening
    start, end = FIGURE.span(Feature.WINDOW_WIDTH)
    assert (start[0], end[0], start[1]) == (left, left + across, end[1])
    start, end = FIGURE.span(Feature.WINDOW_HEIGHT)
    assert (start[1], end[1], start[0]) == (bottom, bottom + up, end[0])


# A strip on the screen of all numbers is 43 px high there: it is read there, and measured on the measuring screen.
@pytest.mark.parametrize(
    ("aspect", "area"), [(a, AREA) for a in (0.67, 1.0, 1.5, 2.2)] + [(a, SMALL_AREA) for a in (0.67, 1.0, 1.5)]
)
@pytest.mark.parametrize("window_share", [0.1, 0.5, 0.9])
def test_every_value_is_its_button_wide_enough_for_a_glove(
    aspect: float, window_share: float, area: tuple[float, float]
) -> None:
    figure = figure_of(aspect * 100.0, 100.0, (aspect * 100.0 * window_share, 100.0 * window_share), area)
    for feature in TEN_FEATURES + WINDOW:
        assert figure.target_at(figure.value_at(feature)) is feature, feature
    for feature in WINDOW:
        x, y = figure.value_at(feature)
        hits = [figure.target_at((x + dx, y + dy)) is feature for dx in range(-34, 35) for dy in (-25, 0, 25)]
        assert sum(hits) >= 3 * TARGET_PX, feature
        assert all(figure.target_at((x, y + dy)) is feature for dy in range(-25, 26)), feature


@pytest.mark.parametrize("area", [AREA, SMALL_AREA])
@pytest.mark.parametrize("aspect", [0.67, 1.0, 1.5, 2.2])
def test_no_value_stands_on_another(aspect: float, area: tuple[float, float]) -> None:
    figure = figure_of(aspect * 100.0, 100.0, (aspect * 50.0, 50.0), area)
    inside = [feature for feature in TEN_FEATURES + WINDOW if feature.kind in BOX_HALF]
    for one, other in combinations(inside, 2):
        (x, y), (x_other, y_other) = figure.value_at(one), figure.value_at(other)
        half, half_other = BOX_HALF[one.kind], BOX_HALF[other.kind]
        apart = abs(x - x_other) >= half[0] + half_other[0] or abs(y - y_other) >= half[1] + half_other[1]
        if FeatureKind.WINDOW in (one.kind, other.kind):
            assert apart, (one, other)

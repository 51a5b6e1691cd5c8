"""The inner window on the drawing: true inside the coupon, its two sizes clear of everything else and each a button."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, WINDOW, Feature, FeatureKind
from tests.ui.scenes import COUPON, WINDOWED
from ui.touch.widgets.sheet_geometry import Sheet, lay_out

AREA = (396.0, 306.0)
# Of the drawing on the screen of all numbers, the smallest there is.
SMALL_AREA = (335.0, 300.0)
TARGET_PX = 51.0  # 9 mm on a 7-inch panel of 800 x 480
BOX_HALF = {FeatureKind.DIAGONAL: (31.0, 16.0), FeatureKind.WINDOW: (32.0, 16.0)}


def sheet_of(width: float, height: float, window: tuple[float, float], area: tuple[float, float] = AREA) -> Sheet:
    coupon = Coupon(width_mm=width, height_mm=height, window_width_mm=window[0], window_height_mm=window[1])
    return lay_out(coupon, area, scale=1.0, target_px=51.0, limit_mm=0.33)


SHEET = sheet_of(120.0, 80.0, (60.0, 40.0))


def test_a_coupon_without_a_window_shows_none() -> None:
    assert lay_out(COUPON, AREA, scale=1.0, target_px=51.0, limit_mm=0.33).window is None
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
    sheet = sheet_of(width, height, (width * shares[0], height * shares[1]))
    left, bottom, across, up = sheet.window.opening
    assert across / sheet.width == pytest.approx(shares[0])
    assert up / sheet.height == pytest.approx(shares[1])
    assert left + across / 2 == pytest.approx(sheet.left + sheet.width / 2)
    assert bottom + up / 2 == pytest.approx(sheet.bottom + sheet.height / 2)


def test_a_dimension_line_runs_from_side_to_side_of_the_opening() -> None:
    left, bottom, across, up = SHEET.window.opening
    start, end = SHEET.dimension_line(Feature.WINDOW_WIDTH)
    assert (start[0], end[0], start[1]) == (left, left + across, end[1])
    start, end = SHEET.dimension_line(Feature.WINDOW_HEIGHT)
    assert (start[1], end[1], start[0]) == (bottom, bottom + up, end[0])


def test_a_small_opening_has_its_sizes_led_out_of_it() -> None:
    assert SHEET.window.extension_lines() == ()
    small = sheet_of(120.0, 80.0, (20.0, 15.0)).window
    left, bottom, across, up = small.opening
    feet = [line[0] for line in small.extension_lines()]
    top, right = bottom + up, left + across
    assert feet == [(left, top), (right, top), (right, bottom), (right, top)]


# A strip on the screen of all numbers is 43 px high there: it is read there, and measured on the measuring screen.
@pytest.mark.parametrize(
    ("aspect", "area"), [(a, AREA) for a in (0.67, 1.0, 1.5, 2.2)] + [(a, SMALL_AREA) for a in (0.67, 1.0, 1.5)]
)
@pytest.mark.parametrize("window_share", [0.1, 0.5, 0.9])
def test_every_value_is_its_button_wide_enough_for_a_glove(
    aspect: float, window_share: float, area: tuple[float, float]
) -> None:
    sheet = sheet_of(aspect * 100.0, 100.0, (aspect * 100.0 * window_share, 100.0 * window_share), area)
    for feature in TEN_FEATURES + WINDOW:
        assert sheet.target_at(sheet.label_centre(feature)) is feature, feature
    for feature in WINDOW:
        x, y = sheet.label_centre(feature)
        hits = [sheet.target_at((x + dx, y + dy)) is feature for dx in range(-34, 35) for dy in (-25, 0, 25)]
        assert sum(hits) >= 3 * TARGET_PX, feature
        assert all(sheet.target_at((x, y + dy)) is feature for dy in range(-25, 26)), feature


@pytest.mark.parametrize("area", [AREA, SMALL_AREA])
@pytest.mark.parametrize("aspect", [0.67, 1.0, 1.5, 2.2])
def test_no_value_stands_on_another(aspect: float, area: tuple[float, float]) -> None:
    sheet = sheet_of(aspect * 100.0, 100.0, (aspect * 50.0, 50.0), area)
    inside = [feature for feature in TEN_FEATURES + WINDOW if feature.kind in BOX_HALF]
    for one, other in combinations(inside, 2):
        (x, y), (x_other, y_other) = sheet.label_centre(one), sheet.label_centre(other)
        half, half_other = BOX_HALF[one.kind], BOX_HALF[other.kind]
        apart = abs(x - x_other) >= half[0] + half_other[0] or abs(y - y_other) >= half[1] + half_other[1]
        if FeatureKind.WINDOW in (one.kind, other.kind):
            assert apart, (one, other)


def test_the_live_arrow_begins_beyond_its_value() -> None:
    for feature in WINDOW:
        start, end = SHEET.dimension_line(feature)
        begin = SHEET.window.shaft_from(feature)
        along = 0 if feature is Feature.WINDOW_WIDTH else 1
        beyond = start[along] + begin * (end[along] - start[along])
        assert beyond >= SHEET.label_centre(feature)[along] + BOX_HALF[FeatureKind.WINDOW][along] - 1e-6
        assert begin < 1.0


def test_a_deviation_of_the_window_is_drawn_times_the_factor() -> None:
    tip, nominal = SHEET.length_tip(Feature.WINDOW_HEIGHT, 0.2), SHEET.dimension_line(Feature.WINDOW_HEIGHT)[1]
    assert tip[1] - nominal[1] == pytest.approx(0.2 * SHEET.px_per_mm * SHEET.factor)

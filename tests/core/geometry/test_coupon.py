"""The coupon as designed: its nominal values, its window, and sizes no coupon has."""

import pytest

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, WINDOW, Feature

PLAIN = Coupon(width_mm=120.0, height_mm=90.0)
SLOTTED = Coupon(width_mm=120.0, height_mm=90.0, window_width_mm=60.0)


def test_nominal_values_of_all_ten() -> None:
    assert [PLAIN.nominal(feature) for feature in TEN_FEATURES] == [120, 90, 120, 90, 150, 150, 90, 90, 90, 90]


def test_a_coupon_has_the_sides_of_a_window_only_with_one() -> None:
    assert [feature for feature in Feature if not PLAIN.has(feature)] == list(WINDOW)
    assert [feature for feature in Feature if not SLOTTED.has(feature)] == [Feature.WINDOW_HEIGHT]
    assert SLOTTED.nominal(Feature.WINDOW_WIDTH) == 60.0
    with pytest.raises(BadInputError, match="no window"):
        SLOTTED.nominal(Feature.WINDOW_HEIGHT)


@pytest.mark.parametrize(
    "sizes",
    [
        {"width_mm": 5.0, "height_mm": 90.0},
        {"width_mm": 120.0, "height_mm": float("nan")},
        {"width_mm": 120.0, "height_mm": 4001.0},
        {"width_mm": 120.0, "height_mm": 90.0, "window_width_mm": 120.0},
        {"width_mm": 120.0, "height_mm": 90.0, "window_height_mm": 0.0},
    ],
)
def test_sizes_no_coupon_has_are_refused(sizes: dict[str, float]) -> None:
    with pytest.raises(BadInputError, match="must"):
        Coupon(**sizes)

"""Where the inner window lies on the coupon's drawing: its opening, two dimension lines, their values and targets.

Stage: screen. Input: coupon, the rectangle it is drawn in. Output: points in px, origin lower left. The opening is
drawn as true as the coupon; its dimension lines are led out of it where it is smaller than their values (as in ISO
129-1).
"""

from msgspec import Struct

from core.geometry import WINDOW, Coupon, Feature

Point = tuple[float, float]
Line = tuple[Point, Point]

# In px of the 800 x 480 design.
_BESIDE = 36.0
# How far from its value a finger still means a feature, across and up: in px of the design, and in touch targets.
_REACH_ACROSS = 34.0
_REACH = 0.53
# Below this width both values stand above each other.
_WIDE = 132.0
# The values of the diagonals and the factor are written in the coupon as well: clear of the one, and of the other.
_DIAGONALS_REACH_TO = (0.3, 34.0)
_FACTOR_REACHES_DOWN = 44.0
_STEP = 26.0


class WindowPlace(Struct, frozen=True, kw_only=True):
    """The opening as (left, bottom, width, height); `labels` are where the two values stand, width first; `reach` is
    how far from there, across and up, a finger still means them."""

    opening: tuple[float, float, float, float]
    labels: tuple[Point, Point]
    reach: Point
    scale: float

    def label_centre(self, feature: Feature) -> Point:
        """Where the value is written."""
        return self.labels[WINDOW.index(feature)]

    def dimension_line(self, feature: Feature) -> Line:
        """The line its value stands on, from side to side of the opening."""
        left, bottom, width, height = self.opening
        x, y = self.label_centre(feature)
        if feature is Feature.WINDOW_WIDTH:
            return (left, y), (left + width, y)
        return (x, bottom), (x, bottom + height)

    def target_at(self, point: Point) -> Feature | None:
        """The feature whose value a finger means."""
        for feature, (x, y) in zip(WINDOW, self.labels, strict=True):
            if abs(point[0] - x) <= self.reach[0] and abs(point[1] - y) <= self.reach[1]:
                return feature
        return None


def place_window(
    coupon: Coupon, outline: tuple[float, float, float, float], *, scale: float, target_px: float
) -> WindowPlace | None:
    """The window of a coupon drawn in `outline` (left, bottom, width, height); None without a window. `target_px` is
    the least side of what is touched."""
    if coupon.window_width_mm is None or coupon.window_height_mm is None:
        return None
    left, bottom, width, height = outline
    opening_width = width * coupon.window_width_mm / coupon.width_mm
    opening_height = height * coupon.window_height_mm / coupon.height_mm
    reach = (max(_REACH_ACROSS * scale, _REACH * target_px), _REACH * target_px)
    x, middle = left + width / 2, bottom + height / 2
    lower = max(middle + 10.0 * scale, bottom + _DIAGONALS_REACH_TO[0] * height + _DIAGONALS_REACH_TO[1] * scale)
    if width >= _WIDE * scale:
        upper = max(lower, min(lower + _STEP * scale, bottom + height - _FACTOR_REACHES_DOWN * scale))
        labels = ((x - _BESIDE * scale, upper), (x + _BESIDE * scale, lower))
    else:
        labels = ((x, lower + 2.05 * reach[1]), (x, lower))
    return WindowPlace(
        opening=(x - opening_width / 2, middle - opening_height / 2, opening_width, opening_height),
        labels=labels,
        reach=reach,
        scale=scale,
    )

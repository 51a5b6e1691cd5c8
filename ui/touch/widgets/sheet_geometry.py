"""Where everything of the coupon lies on the drawing: corners, dimension lines, tolerance zones, touch targets.

Stage: screen. Input: coupon, limits, adjustment, size of the area in px. Output: points in px, origin lower left.
Deviations are drawn `factor` times larger than the coupon itself; the factor is always written beside the drawing.
Source: the shape model of the adjustment; dimension lines as in ISO 129-1 (the value on the line, arrows at its ends).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, EDGES, Feature, FeatureKind
from core.metrology.adjustment import Adjustment
from ui.touch.widgets.window_geometry import WindowPlace, place_window

Point = tuple[float, float]

# In px of the 800 x 480 design; multiplied by the scale of the window.
_MARGIN_X = 68.0
_MARGIN_Y = 54.0
_DIMENSION_OFFSET = {Feature.NEAR: 24.0, Feature.FAR: 24.0, Feature.LEFT: 34.0, Feature.RIGHT: 34.0}
_ZONE_TARGET = 12.0
_SHAPE_TARGET = 24.0
# How far the buttons of corners and edges reach into the coupon; outwards they reach to the end of the margin.
_CORNER_INNER = 20.0
_EDGE_INNER = 12.0
_ARM = 74.0
# A strip is drawn wider than it is, in touch targets: its features could not be told apart by a finger.
_LEAST_HEIGHT = 2.6
_LEAST_HEIGHT_WITH_WINDOW = 3.4
_LEAST_WIDTH = 3.1  # the values of both diagonals stand side by side
_FACTORS = (1000, 500, 200, 100, 50, 20, 10, 5, 2, 1)
_SIGN = {Feature.NL: (-1, -1), Feature.NR: (1, -1), Feature.FR: (1, 1), Feature.FL: (-1, 1)}
# Where a length begins and where it ends: the end carries the tolerance zone.
ENDS = {
    Feature.NEAR: (Feature.NL, Feature.NR),
    Feature.RIGHT: (Feature.NR, Feature.FR),
    Feature.FAR: (Feature.FL, Feature.FR),
    Feature.LEFT: (Feature.NL, Feature.FL),
    Feature.NL_FR: (Feature.NL, Feature.FR),
    Feature.NR_FL: (Feature.NR, Feature.FL),
}
# A corner's angle opens from the edge along X to the edge along Y.
_ARMS = {
    Feature.NL: (Feature.NR, Feature.FL),
    Feature.NR: (Feature.NL, Feature.FR),
    Feature.FR: (Feature.FL, Feature.NR),
    Feature.FL: (Feature.FR, Feature.NL),
}
_OUTWARD = {Feature.NEAR: (0, -1), Feature.RIGHT: (1, 0), Feature.FAR: (0, 1), Feature.LEFT: (-1, 0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """The 95 % region of a corner as drawn: half-axes in px, the first one turned by `angle_deg` from X."""

    centre: Point
    half_axes: Point
    angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The coupon on an area: `left`, `bottom`, `width`, `height` of the nominal rectangle in px; `scale` px per
    design px; `target_px` least side of what is touched; `px_per_mm` of deviations before the factor. A strip that is
    drawn wider than it is stands not `in_proportion`."""

    left: float
    bottom: float
    width: float
    height: float
    scale: float
    target_px: float
    px_per_mm: float
    factor: int
    window: WindowPlace | None = None
    in_proportion: bool = True

    def corner(self, corner: Feature) -> Point:
        """The nominal corner."""
        sign_x, sign_y = _SIGN[corner]
        return self.left + self.width * (sign_x + 1) / 2, self.bottom + self.height * (sign_y + 1) / 2

    def moved(self, corner: Feature, deviation_mm: Point) -> Point:
        """The corner displaced by a deviation, as drawn; kept inside the margin."""
        x, y = self.corner(corner)
        limit = 44.0 * self.scale
        dx, dy = (max(-limit, min(limit, part * self.px_per_mm * self.factor)) for part in deviation_mm)
        return x + dx, y + dy

    def drawn_length(self, deviation_mm: float) -> float:
        """A deviation of length as drawn, px, kept inside the margin."""
        limit = 34.0 * self.scale
        return max(-limit, min(limit, deviation_mm * self.px_per_mm * self.factor))

    def drawn_angle_deg(self, deviation_deg: float) -> float:
        """A deviation of angle as drawn, kept below a third of a right angle."""
        return max(-30.0, min(30.0, deviation_deg * self.factor))

    def dimension_line(self, feature: Feature) -> tuple[Point, Point]:
        """Start and end of the line a length is written on: beside the edge, across the window, the diagonal itself."""
        if self.window is not None and feature.kind is FeatureKind.WINDOW:
            return self.window.dimension_line(feature)
        start, end = (self.corner(corner) for corner in ENDS[feature])
        if feature.kind is FeatureKind.DIAGONAL:
            return start, end
        out_x, out_y = _OUTWARD[feature]
        offset = _DIMENSION_OFFSET[feature] * self.scale
        return (start[0] + out_x * offset, start[1] + out_y * offset), (
            end[0] + out_x * offset,
            end[1] + out_y * offset,
        )

    def label_centre(self, feature: Feature) -> Point:
        """Where the value is written: on its line, or outside its corner."""
        if feature.kind is FeatureKind.CORNER:
            x, y = self.corner(feature)
            sign_x, sign_y = _SIGN[feature]
            return x + sign_x * 40.0 * self.scale, y + sign_y * 33.0 * self.scale
        if self.window is not None and feature.kind is FeatureKind.WINDOW:
            return self.window.label_centre(feature)
        start, end = self.dimension_line(feature)
        # Diagonals cross in the middle: their values stand in the near half, clear of each other.
        part = 0.3 if feature.kind is FeatureKind.DIAGONAL else 0.5
        return start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])

    def length_zone(self, feature: Feature, limit_mm: float) -> list[Point]:
        """The tolerance zone at the end of a length, a closed lens or block of points around the nominal end."""
        start, end = self.dimension_line(feature)
        along = _unit(start, end)
        reach = max(abs(self.drawn_length(limit_mm)), 2.0 * self.scale)
        half = 11.0 * self.scale
        if feature.kind is FeatureKind.DIAGONAL:
            turn = [math.pi * i / 12 for i in range(24)]
            shape = [(reach * math.cos(t), half * math.sin(t)) for t in turn]
        else:
            shape = [(-reach, -half), (reach, -half), (reach, half), (-reach, half)]
        return [(end[0] + u * along[0] - v * along[1], end[1] + u * along[1] + v * along[0]) for u, v in shape]

    def length_tip(self, feature: Feature, deviation_mm: float) -> Point:
        """Where the arrow of a measured length ends."""
        start, end = self.dimension_line(feature)
        along = _unit(start, end)
        drawn = self.drawn_length(deviation_mm)
        return end[0] + drawn * along[0], end[1] + drawn * along[1]

    def corner_ray(self, corner: Feature, deviation_deg: float) -> Point:
        """The end of the arm of an angle of 90 degrees + deviation."""
        base, other = (self.corner(neighbour) for neighbour in _ARMS[corner])
        apex = self.corner(corner)
        along, up = _unit(apex, base), _unit(apex, other)
        turn = math.radians(self.drawn_angle_deg(deviation_deg))
        arm = _ARM * self.scale
        return (
            apex[0] + arm * (up[0] * math.cos(turn) - along[0] * math.sin(turn)),
            apex[1] + arm * (up[1] * math.cos(turn) - along[1] * math.sin(turn)),
        )

    def corner_wedge(self, corner: Feature, limit_deg: float) -> list[Point]:
        """The tolerance wedge of an angle: apex, then the arc."""
        steps = [limit_deg * (i / 4 - 1) for i in range(9)]
        return [self.corner(corner), *(self.corner_ray(corner, step) for step in steps)]

    def target_at(self, point: Point) -> Feature | None:
        """The feature a finger means: corner first, then edge with its dimension line, the window, then diagonal."""
        for corner in CORNERS:
            (x, y), (sign_x, sign_y) = self.corner(corner), _SIGN[corner]
            outward = (point[0] - x) * sign_x, (point[1] - y) * sign_y
            least = -_CORNER_INNER * self.scale
            if least <= outward[0] <= _MARGIN_X * self.scale and least <= outward[1] <= _MARGIN_Y * self.scale:
                return corner
        for edge in EDGES:
            if self._touches_edge(edge, point):
                return edge
        if self.window is not None and (inner := self.window.target_at(point)) is not None:
            return inner
        reach, diagonal = min(
            (_distance_to_segment(point, *self.dimension_line(diagonal)), diagonal)
            for diagonal in (Feature.NL_FR, Feature.NR_FL)
        )
        return diagonal if reach <= 0.55 * self.target_px else None

    def _touches_edge(self, edge: Feature, point: Point) -> bool:
        start, end = (self.corner(corner) for corner in ENDS[edge])
        out_x, out_y = _OUTWARD[edge]
        outward = (point[0] - start[0]) * out_x + (point[1] - start[1]) * out_y
        along = _unit(start, end)
        run = (point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]
        outer = (_MARGIN_X if out_x else _MARGIN_Y) * self.scale
        return -_EDGE_INNER * self.scale <= outward <= outer and 0.0 <= run <= math.dist(start, end)


def lay_out(
    coupon: Coupon,
    area_px: Point,
    *,
    scale: float,
    target_px: float,
    limit_mm: float | None,
    deviation_mm: float = 0.0,
) -> Sheet:
    """Place the coupon on an area; the factor makes the limit visible and keeps the largest deviation inside."""
    free_x = max(area_px[0] - 2 * _MARGIN_X * scale, 10.0)
    free_y = max(area_px[1] - 2 * _MARGIN_Y * scale, 10.0)
    aspect = coupon.width_mm / coupon.height_mm
    width = min(free_x, free_y * aspect)
    height = width / aspect
    width = max(width, min(free_x, _LEAST_WIDTH * target_px))
    height = max(height, min(free_y, _least_height(coupon) * target_px))
    px_per_mm = max(width / coupon.width_mm, height / coupon.height_mm)
    left, bottom = (area_px[0] - width) / 2, (area_px[1] - height) / 2
    return Sheet(
        left=left,
        bottom=bottom,
        width=width,
        height=height,
        scale=scale,
        target_px=target_px,
        px_per_mm=px_per_mm,
        factor=_factor(px_per_mm / scale, limit_mm, deviation_mm),
        window=place_window(coupon, (left, bottom, width, height), scale=scale, target_px=target_px),
        in_proportion=math.isclose(width / height, aspect, rel_tol=0.02),
    )


def _least_height(coupon: Coupon) -> float:
    return _LEAST_HEIGHT if coupon.window_width_mm is None else _LEAST_HEIGHT_WITH_WINDOW


def least_area_height_px(coupon: Coupon, scale: float, target_px: float) -> float:
    """The height below which the features of the drawing would be smaller than a touch target."""
    return 2 * _MARGIN_Y * scale + _least_height(coupon) * target_px + 1.0


def _factor(px_per_mm: float, limit_mm: float | None, deviation_mm: float) -> int:
    for factor in _FACTORS:
        zone_fits = limit_mm is None or factor * px_per_mm * limit_mm <= _ZONE_TARGET
        if zone_fits and factor * px_per_mm * deviation_mm <= _SHAPE_TARGET:
            return factor
    return 1


def corner_deviations_mm(adjustment: Adjustment) -> dict[Feature, Point]:
    """How far each corner of the best fit lies from nominal, mm, in the frame of the mean X direction."""
    a, b, g, tx, ty = (float(part) for part in adjustment.parameters[:5])
    half_x, half_y = adjustment.coupon.width_mm / 2, adjustment.coupon.height_mm / 2
    deviations = {}
    for corner in CORNERS:
        x, y = _SIGN[corner][0] * half_x, _SIGN[corner][1] * half_y
        deviations[corner] = (x * a + g * y + tx * x * y / half_y, y * b + ty * x * y / half_x)
    return deviations


def corner_ellipse(sheet: Sheet, adjustment: Adjustment, corner: Feature) -> Ellipse:
    """The 95 % region of a corner (chi-square with two degrees of freedom: 2.448 standard deviations)."""
    half_x, half_y = adjustment.coupon.width_mm / 2, adjustment.coupon.height_mm / 2
    x, y = _SIGN[corner][0] * half_x, _SIGN[corner][1] * half_y
    jacobian = np.array([[x, 0.0, y, x * y / half_y, 0.0], [0.0, y, 0.0, 0.0, x * y / half_x]])
    variances, axes = np.linalg.eigh(jacobian @ adjustment.covariance[:5, :5] @ jacobian.T)
    first, second = 2.448 * np.sqrt(np.clip(variances, 0.0, None)) * sheet.px_per_mm * sheet.factor
    return Ellipse(
        centre=sheet.moved(corner, corner_deviations_mm(adjustment)[corner]),
        half_axes=(float(first), float(second)),
        angle_deg=math.degrees(math.atan2(axes[1, 0], axes[0, 0])),
    )


def _unit(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _distance_to_segment(point: Point, start: Point, end: Point) -> float:
    along = _unit(start, end)
    run = (point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]
    run = max(0.0, min(math.dist(start, end), run))
    return math.dist(point, (start[0] + run * along[0], start[1] + run * along[1]))

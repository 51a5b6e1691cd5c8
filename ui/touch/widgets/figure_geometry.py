"""Where the coupon and the instrument on it lie on the drawing: outline, seats, jaws, blades, what a finger means.

Stage: screen. Input: coupon, area in px. Output: points in px, origin lower left. What is drawn here is how to measure,
not how far off it is: nothing is exaggerated but the seats, which are widened so that they are seen.
"""

import math

from msgspec import Struct

from core.geometry import CORNERS, DIAGONALS, EDGES, Coupon, Feature, FeatureKind, seat_legs
from ui.touch.widgets.window_geometry import WindowPlace, place_window

Point = tuple[float, float]
Polygon = tuple[Point, ...]

# In px of the 800 x 480 design.
_MARGIN_X, _MARGIN_Y = 70.0, 52.0
_MARGIN_BARE = 48.0  # the beam of the jaws, and what keeps it clear
_LEAST_SEAT_PX = 15.0
_LARGEST_SEAT_SHARE = 0.28  # of the shorter side as drawn
_JAW_PX = 11.0  # how thick a jaw is drawn
_JAW_OUT_PX = 34.0  # how far the jaws of an edge stick out to their beam
_BLADE_PX, _BLADE_WIDTH_PX = 74.0, 9.0
_VALUE_OUT = {Feature.NEAR: 26.0, Feature.FAR: 24.0, Feature.LEFT: 36.0, Feature.RIGHT: 36.0}
_VALUE_IN, _VALUE_OUTSIDE = (44.0, 42.0), (-38.0, -26.0)
_VALUE_BESIDE_WINDOW = (34.0, 20.0)  # the opening takes the room farther in
_RESULTS_BESIDE = 78.0  # from the middle of one diagonal's figure to the other's
_CORNER_INNER, _EDGE_INNER = 20.0, 12.0
# A strip is drawn wider than it is, in touch targets: its features could not be told apart by a finger.
_LEAST_HEIGHT, _LEAST_HEIGHT_WITH_WINDOW, _LEAST_WIDTH = 2.6, 3.4, 3.1
_SIGN = {Feature.NL: (-1, -1), Feature.NR: (1, -1), Feature.FR: (1, 1), Feature.FL: (-1, 1)}
ENDS = {
    Feature.NEAR: (Feature.NL, Feature.NR),
    Feature.RIGHT: (Feature.NR, Feature.FR),
    Feature.FAR: (Feature.FL, Feature.FR),
    Feature.LEFT: (Feature.NL, Feature.FL),
    Feature.NL_FR: (Feature.NL, Feature.FR),
    Feature.NR_FL: (Feature.NR, Feature.FL),
}
_BESIDE = {corner: tuple(edge for edge in EDGES if corner in ENDS[edge]) for corner in CORNERS}
_OUTWARD = {Feature.NEAR: -1j, Feature.RIGHT: 1 + 0j, Feature.FAR: 1j, Feature.LEFT: -1 + 0j}


class Figure(Struct, frozen=True, kw_only=True):
    """The coupon on an area: `left`, `bottom`, `width`, `height` of the nominal rectangle, px; `legs` of the seats at
    (nl and fr), (nr and fl) along X and Y, px; `depth` how far the jaws of an edge reach in, px; `scale` px per design
    px; `target_px` least side of what is touched. A `result` wears no instrument: its corners' values have room
    outside."""

    left: float
    bottom: float
    width: float
    height: float
    legs: tuple[Point, Point]
    depth: float
    scale: float
    target_px: float
    window: WindowPlace | None
    result: bool = False

    def corner(self, corner: Feature) -> Point:
        """The nominal corner, as if there were no seat."""
        sign_x, sign_y = _SIGN[corner]
        return self.left + self.width * (sign_x + 1) / 2, self.bottom + self.height * (sign_y + 1) / 2

    def seat(self, corner: Feature) -> tuple[Point, Point]:
        """The ends of the seat: on the edge along X, on the edge along Y; the corner itself twice without one."""
        (x, y), (sign_x, sign_y) = self.corner(corner), _SIGN[corner]
        along_x, along_y = self.legs[0 if corner in (Feature.NL, Feature.FR) else 1]
        return (x - sign_x * along_x, y), (x, y - sign_y * along_y)

    @property
    def outline(self) -> Polygon:
        """Counter-clockwise from the seat at NL; convex."""
        points: list[Point] = []
        for corner in CORNERS:
            on_x, on_y = self.seat(corner)
            points += [on_y, on_x] if corner in (Feature.NL, Feature.FR) else [on_x, on_y]
        return tuple(point for i, point in enumerate(points) if math.dist(point, points[i - 1]) > 0.01)

    def span(self, feature: Feature) -> tuple[Point, Point]:
        """From where to where a length is measured: along the edge, from seat to seat, across the window."""
        if feature.kind is FeatureKind.WINDOW and self.window is not None:
            return self.window.dimension_line(feature)
        start, end = ENDS[feature]
        if feature.kind is FeatureKind.DIAGONAL:
            return _middle(*self.seat(start)), _middle(*self.seat(end))
        return self.corner(start), self.corner(end)

    def jaws(self, feature: Feature) -> tuple[Polygon, ...]:
        """The caliper's two jaws and, for an edge, the beam that joins them; the blades of the gauge for a corner."""
        match feature.kind:
            case FeatureKind.DIAGONAL:
                return self._diagonal_jaws(feature)
            case FeatureKind.EDGE:
                return self._edge_jaws(feature)
            case FeatureKind.WINDOW:
                return self._window_jaws(feature)
            case FeatureKind.CORNER:
                return self._blades(feature)

    def _diagonal_jaws(self, feature: Feature) -> tuple[Polygon, ...]:
        """Flat against the seats, a little longer than they are, square to the diagonal."""
        start, end = (complex(*point) for point in self.span(feature))
        along = (end - start) / abs(end - start)
        half = max(math.dist(*self.seat(ENDS[feature][0])), 26.0 * self.scale) / 2 + 8.0 * self.scale
        thick = _JAW_PX * self.scale
        return (
            _bar(start - along * thick / 2, along * 1j * half, thick),
            _bar(end + along * thick / 2, along * 1j * half, thick),
        )

    def _edge_jaws(self, feature: Feature) -> tuple[Polygon, ...]:
        """On the two edges beside this one, `depth` deep beyond the end of the seat; the beam outside."""
        out = _OUTWARD[feature]
        start, end = (complex(*point) for point in self.span(feature))
        along = (end - start) / abs(end - start)
        thick, beam = _JAW_PX * self.scale, _JAW_OUT_PX * self.scale
        bars = []
        for corner, place, away in zip(ENDS[feature], (start, end), (-along, along), strict=True):
            seat = self.legs[0 if corner in (Feature.NL, Feature.FR) else 1][0 if out.real else 1]
            inner = place - out * (seat + self.depth)
            outer = place + out * (beam + thick)
            bars.append(_bar((inner + outer) / 2 + away * thick / 2, (outer - inner) / 2, thick))
        reach = (end - start) / 2 + along * thick
        return (*bars, _bar((start + end) / 2 + out * (beam + thick / 2), reach, thick * 0.8))

    def _window_jaws(self, feature: Feature) -> tuple[Polygon, ...]:
        """Inside the opening, pressed outwards."""
        start, end = (complex(*point) for point in self.span(feature))
        along = (end - start) / abs(end - start)
        thick, half = _JAW_PX * self.scale, 18.0 * self.scale
        return (
            _bar(start + along * thick / 2, along * 1j * half, thick),
            _bar(end - along * thick / 2, along * 1j * half, thick),
        )

    def _blades(self, corner: Feature) -> tuple[Polygon, ...]:
        """Two blades outside the corner, each along one edge."""
        place, (sign_x, sign_y) = complex(*self.corner(corner)), _SIGN[corner]
        wide, reach = _BLADE_WIDTH_PX * self.scale, _BLADE_PX * self.scale
        reach = min(reach, 0.45 * self.width, 0.45 * self.height)
        over = wide
        flat = place + complex(sign_x * (over - reach) / 2, sign_y * wide / 2)
        upright = place + complex(sign_x * wide / 2, sign_y * (over - reach) / 2)
        return _bar(flat, complex((reach + over) / 2, 0), wide), _bar(upright, complex(0, (reach + over) / 2), wide)

    def value_at(self, feature: Feature, *, worn: bool = False) -> Point:
        """The middle of the figure that was measured: beside its edge (inside, where the instrument is `worn` by an
        edge whose beam would run through it), beside its diagonal, inside its corner."""
        if feature.kind is FeatureKind.WINDOW and self.window is not None:
            x, y = self.window.label_centre(feature)
            # The jaws across the height stand where its figure would: it makes room.
            return (x - 42.0 * self.scale, y) if feature is Feature.WINDOW_HEIGHT and not self.result else (x, y)
        if feature.kind is FeatureKind.CORNER:
            x, y = self.corner(feature)
            sign_x, sign_y = _SIGN[feature]
            inside = _VALUE_IN if self.window is None else _VALUE_BESIDE_WINDOW
            in_x, in_y = _VALUE_OUTSIDE if self.result else inside
            return x - sign_x * in_x * self.scale, y - sign_y * in_y * self.scale
        start, end = (complex(*point) for point in self.span(feature))
        if feature.kind is FeatureKind.DIAGONAL and self.result:
            # Side by side in the near half, clear of the crossing; one above the other where that is too narrow.
            narrow = self.window is None and 0.4 * self.width < _RESULTS_BESIDE * self.scale
            place = start + (0.7 if narrow and feature is Feature.NL_FR else 0.3) * (end - start)
            return place.real, place.imag
        if feature.kind is FeatureKind.DIAGONAL and self.window is not None:
            _x, low, _width, high = self.window.opening
            above, below = low + high, low
            y = (above + self.bottom + self.height) / 2 if feature is Feature.NL_FR else (self.bottom + below) / 2
            return self.left + self.width / 2, y
        if feature.kind is FeatureKind.DIAGONAL:
            # Beside its line, clear of the crossing and of the orientation mark.
            part, up = (0.7, 8.0) if feature is Feature.NL_FR else (0.3, -8.0)
            place = start + part * (end - start) + complex(-44.0, up) * self.scale
            return place.real, place.imag
        inwards = worn and feature in (Feature.LEFT, Feature.RIGHT)
        out = -_VALUE_OUT[feature] if inwards else _VALUE_OUT[feature]
        place = (start + end) / 2 + _OUTWARD[feature] * out * self.scale
        return place.real, place.imag

    def target_at(self, point: Point) -> Feature | None:
        """The feature a finger means: corner first, then edge, the window, then diagonal."""
        across, up = point[0] - self.left, point[1] - self.bottom
        x, y = _MARGIN_X * self.scale, _MARGIN_Y * self.scale
        # How far outside each edge, of how much that still means it; where along it, of how much.
        places = {
            Feature.NEAR: (-up, y, across, self.width),
            Feature.RIGHT: (across - self.width, x, up, self.height),
            Feature.FAR: (up - self.height, y, across, self.width),
            Feature.LEFT: (-across, x, up, self.height),
        }
        inside = -_CORNER_INNER * self.scale
        for corner, (one, other) in _BESIDE.items():
            if inside <= places[one][0] <= places[one][1] and inside <= places[other][0] <= places[other][1]:
                return corner
        for edge, (outside, margin, run, length) in places.items():
            if -_EDGE_INNER * self.scale <= outside <= margin and 0.0 <= run <= length:
                return edge
        if self.window is not None and (inner := self.window.target_at(point)) is not None:
            return inner
        reach, diagonal = min((_distance(point, *self.span(diagonal)), diagonal) for diagonal in DIAGONALS)
        return diagonal if reach <= 0.55 * self.target_px else None


def place_figure(
    coupon: Coupon,
    area: tuple[float, float],
    *,
    depth_mm: float,
    scale: float,
    target_px: float,
    result: bool = False,
    bare: bool = False,
) -> Figure:
    """Place the coupon in the middle of an area (width, height), px; a `result` wears no instrument, a `bare` one no
    figures: its instrument alone needs room around it."""
    margins = (_MARGIN_BARE, _MARGIN_BARE) if bare else (_MARGIN_X, _MARGIN_Y)
    free_x, free_y = (max(side - 2 * margin * scale, 10.0) for side, margin in zip(area, margins, strict=True))
    aspect = coupon.width_mm / coupon.height_mm
    width = min(free_x, free_y * aspect)
    height = width / aspect
    width = max(width, min(free_x, _LEAST_WIDTH * target_px))
    height = max(height, min(free_y, _least_height(coupon) * target_px))
    left, bottom = (area[0] - width) / 2, (area[1] - height) / 2
    px_per_mm = min(width / coupon.width_mm, height / coupon.height_mm)
    return Figure(
        left=left,
        bottom=bottom,
        width=width,
        height=height,
        legs=_legs(coupon, width, height, scale),
        depth=max(depth_mm * px_per_mm, 14.0 * scale),
        scale=scale,
        target_px=target_px,
        window=place_window(coupon, (left, bottom, width, height), scale=scale, target_px=target_px),
        result=result,
    )


def least_area_height_px(coupon: Coupon, scale: float, target_px: float) -> float:
    """The height below which the features of the drawing would be smaller than a touch target."""
    return 2 * _MARGIN_Y * scale + _least_height(coupon) * target_px + 1.0


def _legs(coupon: Coupon, width: float, height: float, scale: float) -> tuple[Point, Point]:
    """Seats square to the diagonals of the rectangle as drawn, both pairs larger by one factor, so that the wider pair
    is seen to be wider."""
    if coupon.seats is None:
        return (0.0, 0.0), (0.0, 0.0)
    wide_mm, narrow_mm = coupon.seats.nl_fr_mm, coupon.seats.nr_fl_mm
    factor = max(min(width / coupon.width_mm, height / coupon.height_mm), _LEAST_SEAT_PX * scale / narrow_mm)
    factor = min(factor, _LARGEST_SEAT_SHARE * min(width, height) / wide_mm)
    wide, narrow = (seat_legs(width, height, factor * seat_mm) for seat_mm in (wide_mm, narrow_mm))
    return (wide.along_x_mm, wide.along_y_mm), (narrow.along_x_mm, narrow.along_y_mm)


def _least_height(coupon: Coupon) -> float:
    return _LEAST_HEIGHT if coupon.window_width_mm is None else _LEAST_HEIGHT_WITH_WINDOW


def _bar(middle: complex, half: complex, thick: float) -> Polygon:
    """A bar from `middle - half` to `middle + half`, so thick."""
    across = half / abs(half) * 1j * thick / 2
    corners = (middle - half - across, middle + half - across, middle + half + across, middle - half + across)
    return tuple((corner.real, corner.imag) for corner in corners)


def _middle(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _distance(point: Point, start: Point, end: Point) -> float:
    first, along = complex(*start), complex(*end) - complex(*start)
    share = ((complex(*point) - first) * along.conjugate()).real / abs(along) ** 2
    return abs(complex(*point) - first - max(0.0, min(1.0, share)) * along)

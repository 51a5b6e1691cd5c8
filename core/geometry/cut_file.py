"""What to cut: coupon with its seats, orientation mark, window and positions on the bed as lines in millimetres.

Input: the coupon and how it is to be cut. Output: a Drawing, the same for every file format. Axes as on the machine:
X to the right, Y away from the operator, origin at the nominal corner NL of the first coupon. Lines stand in the order
in which they should be cut: marks first, then windows, the outlines last, while the sheet still holds everything.
"""

import math
from enum import StrEnum
from itertools import pairwise

from msgspec import Struct

from core.errors import BadInputError
from core.geometry.affine import Affine, Point
from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.geometry.seats import Legs
from core.geometry.stroke_digits import LETTERS, strokes
from core.said import Length, said

# Jaws sit on the seats, beside them and, in a window, mid-side: a third of the edge is free for scars.
START_FRACTION = 2.0 / 3.0
TAB_FRACTION = 1.0 / 3.0
_MIN_BORDER_MM = 5.0


class Layer(StrEnum):
    """What is done along a line: `mark` is engraved or cut shallow, `cut` goes through."""

    MARK = "mark"
    CUT = "cut"


class Line(Struct, frozen=True, kw_only=True):
    """An open polyline of at least two points (x, y) in mm; a closed outline ends where it began."""

    layer: Layer
    points: tuple[Point, ...]


class CutPlan(Struct, frozen=True, kw_only=True):
    """A coupon and how it is cut; all lengths in mm.

    `kerf_mm`: width of cut to make up for (outlines half of it outward, windows half inward), 0 to cut on the nominal
    line. `lead_in_mm`: the cut starts that far off the edge, in the waste. `tab_mm`: width of the bridges that hold
    coupon and window piece, 0 for none. `columns` x `rows` coupons, `spacing_mm` apart. Seats are the coupon's own.
    """

    coupon: Coupon
    kerf_mm: float = 0.0
    lead_in_mm: float = 2.0
    tab_mm: float = 0.0
    columns: int = 1
    rows: int = 1
    spacing_mm: float = 15.0

    def __post_init__(self) -> None:
        shorter_mm = self.coupon.shorter_side_mm
        for name, length_mm, most_mm in (
            (said("kerf"), self.kerf_mm, shorter_mm / 4.0),
            (said("lead-in"), self.lead_in_mm, shorter_mm / 4.0),
            (said("tab"), self.tab_mm, shorter_mm / 6.0),
            (said("spacing"), self.spacing_mm, math.inf),
        ):
            if not 0.0 <= length_mm <= most_mm:
                raise BadInputError(
                    said(
                        "{name} {length}: it must lie between 0 and {most}",
                        name=name,
                        length=Length(length_mm, None),
                        most=Length(most_mm, None),
                    )
                )
        if not (1 <= self.columns <= len(LETTERS) and 1 <= self.rows <= 99):
            raise BadInputError(
                said(
                    "grid of {columns} x {rows}: at most {most} columns and 99 rows have a name",
                    columns=self.columns,
                    rows=self.rows,
                    most=len(LETTERS),
                )
            )
        if self.columns * self.rows > 1 and self.spacing_mm <= self.lead_in_mm + self.kerf_mm:
            raise BadInputError(
                said(
                    "spacing {spacing}: lead-in and kerf of the next coupon would run into it",
                    spacing=Length(self.spacing_mm, None),
                )
            )
        if _border_mm(self.coupon) < _MIN_BORDER_MM:
            raise BadInputError(
                said(
                    "the window leaves {beside} beside it: it must leave {least} for the orientation mark",
                    beside=Length(_border_mm(self.coupon), None),
                    least=Length(_MIN_BORDER_MM, None),
                )
            )


class Drawing(Struct, frozen=True, kw_only=True):
    """Lines in the order of cutting, and the rectangle they fill: `low` and `high` are its corners (x, y) in mm."""

    lines: tuple[Line, ...]
    low: Point
    high: Point


def draw(plan: CutPlan) -> Drawing:
    """Every line of the plan."""
    places = [(column, row) for row in range(plan.rows) for column in range(plan.columns)]
    marks: list[Line] = []
    windows: list[Line] = []
    outlines: list[Line] = []
    for column, row in places:
        corner = (
            column * (plan.coupon.width_mm + plan.spacing_mm),
            row * (plan.coupon.height_mm + plan.spacing_mm),
        )
        marks.append(_shifted(orientation_mark(plan.coupon), corner))
        if len(places) > 1:
            marks += [_shifted(line, corner) for line in _position_lines(plan.coupon, column, row)]
        windows += [_shifted(line, corner) for line in _window_lines(plan)]
        outlines += [_shifted(line, corner) for line in _cut_lines(plan, _outer_corners(plan), -plan.lead_in_mm)]
    return _drawing((*marks, *windows, *outlines))


def _drawing(lines: tuple[Line, ...]) -> Drawing:
    """Lines with the rectangle they fill."""
    xs, ys = zip(*(point for line in lines for point in line.points), strict=True)
    return Drawing(lines=lines, low=(min(xs), min(ys)), high=(max(xs), max(ys)))


def corrected(drawing: Drawing, correction: Affine) -> Drawing:
    """The drawing with an affine map applied about its origin, the corner NL."""
    lines = tuple(
        Line(layer=line.layer, points=tuple(correction.apply(point) for point in line.points)) for line in drawing.lines
    )
    return _drawing(lines)


def orientation_mark(coupon: Coupon) -> Line:
    """The L beside NL: its long leg along X, well inside the edges and the seat where no jaw reaches.

    It has no mirror symmetry, so a coupon turned over or by a quarter shows; a slit in its place drops nothing.
    """
    inset_mm, short_mm, long_mm = _mark_sizes(coupon)
    x_mm = max(inset_mm, _clear_of_seat_mm(coupon, inset_mm))
    points = ((x_mm + long_mm, inset_mm), (x_mm, inset_mm), (x_mm, inset_mm + short_mm))
    return Line(layer=Layer.MARK, points=points)


def _clear_of_seat_mm(coupon: Coupon, inset_mm: float) -> float:
    """How far right the mark's elbow must lie, `inset_mm` above the near edge, to keep as far off the seat at NL."""
    legs = coupon.legs(Feature.NL)
    if legs.along_x_mm == 0.0:
        return 0.0
    seat_mm = math.hypot(legs.along_x_mm, legs.along_y_mm)
    along, up = legs.along_y_mm / seat_mm, legs.along_x_mm / seat_mm  # the seat's normal, into the coupon
    return legs.along_x_mm + inset_mm * (1.0 - up) / along


def _mark_sizes(coupon: Coupon) -> tuple[float, float, float]:
    """Distance from the edges, short leg, long leg."""
    border_mm = _border_mm(coupon)
    short_mm = min(0.08 * coupon.shorter_side_mm, 0.4 * border_mm)
    return min(0.1 * coupon.shorter_side_mm, 0.35 * border_mm), short_mm, 2.0 * short_mm


def _border_mm(coupon: Coupon) -> float:
    """Material between the near edge and the window; half the coupon where there is none."""
    window_mm = coupon.window_height_mm if coupon.window_width_mm is not None else None
    return (coupon.height_mm - (window_mm or 0.0)) / 2.0


def _position_lines(coupon: Coupon, column: int, row: int) -> list[Line]:
    """The place on the bed, such as B3 (second column from the left, third row from the operator), beside the mark."""
    inset_mm, short_mm, long_mm = _mark_sizes(coupon)
    start = (orientation_mark(coupon).points[1][0] + 1.5 * long_mm, inset_mm)
    text = f"{LETTERS[column]}{row + 1}"
    return [Line(layer=Layer.MARK, points=points) for points in strokes(text, start, short_mm)]


def _window_lines(plan: CutPlan) -> list[Line]:
    coupon = plan.coupon
    if coupon.window_width_mm is None or coupon.window_height_mm is None:
        return []
    half = (
        (coupon.window_width_mm - plan.kerf_mm) / 2.0,
        (coupon.window_height_mm - plan.kerf_mm) / 2.0,
    )
    middle = (coupon.width_mm / 2.0, coupon.height_mm / 2.0)
    corners = [(middle[0] + x * half[0], middle[1] + y * half[1]) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return _cut_lines(plan, [(corner,) for corner in corners], min(plan.lead_in_mm, half[1]))


def _outer_corners(plan: CutPlan) -> list[tuple[Point, ...]]:
    """NL, NR, FR, FL of the path of the cut: one point each, or the two ends of a seat (counter-clockwise)."""
    corners: list[tuple[Point, ...]] = []
    half_mm = plan.kerf_mm / 2.0
    for corner, right, far in ((Feature.NL, 0, 0), (Feature.NR, 1, 0), (Feature.FR, 1, 1), (Feature.FL, 0, 1)):
        along_mm, up_mm = _leg_paths(plan.coupon.legs(corner), half_mm)
        way_x, way_y = 1.0 - 2.0 * right, 1.0 - 2.0 * far  # into the coupon
        x, y = right * plan.coupon.width_mm - way_x * half_mm, far * plan.coupon.height_mm - way_y * half_mm
        on_x_edge = (right * plan.coupon.width_mm + way_x * along_mm, y)
        on_y_edge = (x, far * plan.coupon.height_mm + way_y * up_mm)
        if plan.coupon.seats is None:
            corners.append(((x, y),))
        else:
            corners.append((on_y_edge, on_x_edge) if right == far else (on_x_edge, on_y_edge))
    return corners


def _leg_paths(legs: Legs, half_mm: float) -> tuple[float, float]:
    """Where the path of a seat's cut, half a kerf outside it, meets those of its two edges; from the nominal corner."""
    seat_mm = math.hypot(legs.along_x_mm, legs.along_y_mm)
    if seat_mm == 0.0:
        return 0.0, 0.0
    along, up = legs.along_y_mm / seat_mm, legs.along_x_mm / seat_mm  # the seat's normal
    return legs.along_x_mm - half_mm * (1.0 - up) / along, legs.along_y_mm - half_mm * (1.0 - along) / up


def _cut_lines(plan: CutPlan, corners: list[tuple[Point, ...]], lead_in_y_mm: float) -> list[Line]:
    """The way round, counter-clockwise from a start on the near side: closed, for cutting programs tell inside from
    outside, and offset for the kerf, by closed outlines only. Tabs break it into open pieces.

    `lead_in_y_mm` is where the lead-in begins beside the start: into the window (positive) or before the near edge. It
    is a line of its own, cut before the outline, so that what scars the start is already in the waste.
    """
    near_left, near_right, far_right, far_left = corners
    start = _between(near_left[-1], near_right[0], START_FRACTION)
    way = [start, *near_right, *far_right, *far_left, *near_left, start]
    lead_in = [(start[0], start[1] + lead_in_y_mm)] if lead_in_y_mm else []
    if plan.tab_mm == 0.0:
        return [Line(layer=Layer.CUT, points=points) for points in ((*lead_in, start), tuple(way)) if len(points) > 1]
    sides = (
        (near_right[-1], far_right[0]),
        (far_right[-1], far_left[0]),
        (far_left[-1], near_left[0]),
        (near_left[-1], near_right[0]),
    )
    tabs = [_between(begin, end, TAB_FRACTION) for begin, end in sides]
    return [
        Line(layer=Layer.CUT, points=points) for points in _broken([*lead_in, *way], tabs, plan.tab_mm + plan.kerf_mm)
    ]


def _broken(way: list[Point], tabs: list[Point], gap_mm: float) -> list[tuple[Point, ...]]:
    """The way with a gap around each tab; the tabs stand in the order in which the way passes them."""
    pieces: list[tuple[Point, ...]] = []
    piece = [way[0]]
    waiting = list(tabs)
    for begin, end in pairwise(way):
        length_mm = math.dist(begin, end)
        while waiting and math.isclose(math.dist(begin, waiting[0]) + math.dist(waiting[0], end), length_mm):
            at = math.dist(begin, waiting.pop(0)) / length_mm
            half = gap_mm / 2.0 / length_mm
            pieces.append((*piece, _between(begin, end, at - half)))
            piece = [_between(begin, end, at + half)]
        piece.append(end)
    return [*pieces, tuple(piece)]


def _between(begin: Point, end: Point, fraction: float) -> Point:
    return (begin[0] + fraction * (end[0] - begin[0]), begin[1] + fraction * (end[1] - begin[1]))


def _shifted(line: Line, by: Point) -> Line:
    return Line(layer=line.layer, points=tuple((x + by[0], y + by[1]) for x, y in line.points))

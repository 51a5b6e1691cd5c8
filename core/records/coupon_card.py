"""The card: one page to take to the machine, with the coupon, how it lies, where the jaws go, and lines to write on.

Input: the coupon. Output: the bytes of a PDF. The coupon is drawn at its true size where the page holds it, so that the
piece can be laid on its own picture. The same coupon gives the same bytes.
"""

import math
from contextlib import closing
from datetime import UTC, datetime

from core import __version__
from core.geometry import CORNERS, DIAGONALS, EDGES, WINDOW, Coupon, CutPlan, Feature, Layer, draw
from core.records.report_page import FAMILY, HAIR, INK, LEFT, RIGHT, SOFT, STAMP, TOP, WIDTH, ReportPage
from core.records.tagged_tree import Element
from core.said import PLAIN, Angle, Length, Part, Said, Series, Size, Voice, paragraph, said

Point = tuple[float, float]

JAW_DEPTH_MM = 8.0
_DRAWN_MM = (128.0, 86.0)
_MIDDLE_X, _DRAWING_TOP = 105.0, 43.0
_JAW_MM = 3.2
_LARGEST_LINE_MM, _LINES_END = 8.4, 276.5
_ORDER = (*DIAGONALS, *EDGES, *CORNERS)
# Where a length is read, and which way.
_ALONG = {
    Feature.NEAR: said("near edge, left to right"),
    Feature.RIGHT: said("right edge, near to far"),
    Feature.FAR: said("far edge, left to right"),
    Feature.LEFT: said("left edge, near to far"),
    Feature.WINDOW_WIDTH: said("window, left to right, mid-side"),
    Feature.WINDOW_HEIGHT: said("window, near to far, mid-side"),
}
_CORNER = {
    Feature.NL: said("near left"),
    Feature.NR: said("near right"),
    Feature.FR: said("far right"),
    Feature.FL: said("far left"),
}

_PICTURE = said(
    "The coupon as it lies on the bed, seen from above: the front of the machine below, a pencil cross at the corner "
    "near left, the jaws where they go."
)


_TO_WRITE_ON = said("a line to write on")


def coupon_card(coupon: Coupon, voice: Voice = PLAIN) -> bytes:
    """The page for one coupon."""
    with closing(ReportPage(_LARGEST_LINE_MM, voice)) as page:
        page.describe(_title(coupon), made=datetime(2000, 1, 1, tzinfo=UTC), creator=f"cornerwise {__version__}")
        _header(page, coupon)
        with page.element(Element.FIGURE, instead=_PICTURE):
            below = _drawing(page, coupon)
        _lines(page, coupon, _orders(page, coupon, below + 4.0))
        _caution(page)
        return bytes(page.output())


def _title(coupon: Coupon) -> Said:
    return said("Test coupon {size}", size=Size(coupon.width_mm, coupon.height_mm))


def _header(page: ReportPage, coupon: Coupon) -> None:
    page.set_xy(LEFT, TOP - 2.0)
    with page.element(Element.HEADING):
        page.say(_title(coupon), 110.0, size=18.0, bold=True)
    page.set_xy(LEFT + 110.0, TOP - 2.0)
    page.say(said("Take this page to the machine"), WIDTH - 110.0, size=9.0, align="R")
    page.rule(TOP + 8.5, INK, 0.5)


class _Place:
    """Where points of the coupon (mm, from NL) lie on the page; true to scale where it fits."""

    def __init__(self, coupon: Coupon) -> None:
        self.scale = min(1.0, _DRAWN_MM[0] / coupon.width_mm, _DRAWN_MM[1] / coupon.height_mm)
        self.left = _MIDDLE_X - self.scale * coupon.width_mm / 2.0
        self.near = _DRAWING_TOP + self.scale * coupon.height_mm

    def __call__(self, point: Point) -> Point:
        return self.left + self.scale * point[0], self.near - self.scale * point[1]


def _drawing(page: ReportPage, coupon: Coupon) -> float:
    """The coupon on the bed with jaws, cross and corner names; returns where it ends on the page."""
    place = _Place(coupon)
    _edge_jaws(page, coupon, place)
    _diagonal_jaws(page, coupon, place)
    page.set_draw_color(*INK)
    for line in draw(CutPlan(coupon=coupon, lead_in_mm=0.0)).lines:
        page.set_line_width(0.6 if line.layer is Layer.CUT else 0.9)
        page.polyline([place(point) for point in line.points])
    _cross(page, coupon, place)
    _corner_names(page, coupon, place)
    front = place.near + 20.0
    page.set_line_width(1.6)
    page.set_draw_color(*INK)
    page.line(LEFT + 12.0, front, RIGHT - 12.0, front)
    page.set_xy(LEFT, front + 0.6)
    page.say(said("front of the machine: you stand here"), WIDTH, size=11.0, bold=True, align="C")
    page.set_xy(LEFT, TOP + 9.0)
    if place.scale == 1.0:
        page.say(said("True size: the coupon lies on its picture."), WIDTH, size=8.0, align="R")
    else:
        page.say(said("Drawn smaller than it is."), WIDTH, size=8.0, align="R")
    return front + 6.0


def _corner_point(coupon: Coupon, corner: Feature) -> tuple[Point, Point]:
    """The nominal corner, and the signs of the ways into the coupon."""
    right, far = corner in (Feature.NR, Feature.FR), corner in (Feature.FR, Feature.FL)
    point = (coupon.width_mm if right else 0.0, coupon.height_mm if far else 0.0)
    return point, (-1.0 if right else 1.0, -1.0 if far else 1.0)


def _diagonal_jaws(page: ReportPage, coupon: Coupon, place: _Place) -> None:
    """Jaws flat on the seats of NR-FL (on the corners, where there are none), and the line between them."""
    middles = []
    for corner in (Feature.NR, Feature.FL):
        (x, y), (way_x, way_y) = _corner_point(coupon, corner)
        legs = coupon.legs(corner)
        middles.append((x + way_x * legs.along_x_mm / 2.0, y + way_y * legs.along_y_mm / 2.0))
    first, second = (place(point) for point in middles)
    along = ((second[0] - first[0]) / math.dist(first, second), (second[1] - first[1]) / math.dist(first, second))
    page.set_draw_color(*SOFT)
    page.set_line_width(0.3)
    page.set_dash_pattern(dash=2.0, gap=1.5)
    page.line(*first, *second)
    page.set_dash_pattern()
    seat_mm = place.scale * (coupon.seat_mm(Feature.NR_FL) or 4.0)
    for end, out in ((first, -1.0), (second, 1.0)):
        _jaw(page, end, (out * along[0], out * along[1]), (-along[1], along[0]), seat_mm + 3.0)


def _edge_jaws(page: ReportPage, coupon: Coupon, place: _Place) -> None:
    """A caliper along the far edge, its jaws over left and right edge as deep as they should reach, and that depth."""
    depth_mm = coupon.legs(Feature.FR).along_y_mm + JAW_DEPTH_MM
    left, far = place((0.0, coupon.height_mm))
    right, tips = place((coupon.width_mm, coupon.height_mm - depth_mm))
    page.set_fill_color(*HAIR)
    page.set_draw_color(*SOFT)
    page.set_line_width(0.25)
    page.rect(left - _JAW_MM, far - 9.5, right - left + 2.0 * _JAW_MM, 3.5, style="DF")
    for x in (left - _JAW_MM, right):
        page.rect(x, far - 6.0, _JAW_MM, tips - far + 6.0, style="DF")
    x, begin = right + _JAW_MM + 2.5, place((0.0, coupon.height_mm - depth_mm + JAW_DEPTH_MM))[1]
    page.set_draw_color(*STAMP)
    page.set_line_width(0.4)
    page.line(x, begin, x, tips)
    for y in (begin, tips):
        page.line(x - 1.6, y, x + 1.6, y)
    page.set_xy(x + 2.5, (begin + tips - page.row_mm) / 2.0)
    page.say(Length(JAW_DEPTH_MM, decimals=0), 20.0, size=12.0, bold=True, colour=STAMP)


def _jaw(page: ReportPage, at: Point, out: Point, across: Point, half_mm: float) -> None:
    """A jaw whose face lies at `at`, its back towards `out`."""
    corners = [
        (at[0] + side * half_mm * across[0] + back * out[0], at[1] + side * half_mm * across[1] + back * out[1])
        for side, back in ((-1.0, 0.0), (1.0, 0.0), (1.0, _JAW_MM), (-1.0, _JAW_MM))
    ]
    page.set_fill_color(*HAIR)
    page.set_draw_color(*SOFT)
    page.set_line_width(0.25)
    page.polygon(corners, style="DF")


def _cross(page: ReportPage, coupon: Coupon, place: _Place) -> None:
    """The pencil cross where NL is told from the other corners, drawn by the hand that lifts the coupon."""
    x, y = place((0.0, 0.0))
    x, y = x + place.scale * coupon.width_mm / 6.0, y - place.scale * coupon.height_mm / 3.6
    page.set_draw_color(*STAMP)
    page.set_line_width(0.8)
    page.line(x - 3.0, y - 3.0, x + 3.0, y + 3.0)
    page.line(x - 3.0, y + 3.0, x + 3.0, y - 3.0)
    page.set_xy(x + 5.0, y - page.row_mm / 2.0)
    page.say(said("pencil a cross here"), 50.0, size=10.0, colour=STAMP)


def _corner_names(page: ReportPage, coupon: Coupon, place: _Place) -> None:
    for corner in CORNERS:
        point, (way_x, way_y) = _corner_point(coupon, corner)
        x, y = place(point)
        page.set_xy(x - 40.0 if way_x > 0.0 else x + 8.0, y + (6.0 if way_y > 0.0 else -14.0))
        align = "R" if way_x > 0.0 else "L"
        page.say(_CORNER[corner], 32.0, size=11.0, bold=True, align=align)


def _orders(page: ReportPage, coupon: Coupon, top: float) -> float:
    """What to do, in the order of doing it; returns where it ends on the page."""
    jaws = (
        said("Diagonals: jaws flat on the two short seats, rock for the smallest reading. Each one twice.")
        if coupon.seats is not None
        else said("Diagonals: corner to corner, rock for the smallest reading. Each one twice.")
    )
    depth = (
        said(
            "Edges: jaws {depth} over the edge beyond the seat, never on burr.", depth=Length(JAW_DEPTH_MM, decimals=0)
        )
        if coupon.seats is not None
        else said("Edges: jaws {depth} over the edge, never on burr.", depth=Length(JAW_DEPTH_MM, decimals=0))
    )
    orders: tuple[Said | Series, ...] = (
        paragraph(
            said("Cut the file as it is: do not turn or mirror it in the cutting software."),
            said("Nothing else tells how the piece lay."),
        ),
        said("Before you lift the coupon, pencil a cross at the corner nearest to you on the left."),
        said("Lay it before you as it lay: cross and L near left, the same face up."),
        jaws,
        depth,
    )
    for number, order in enumerate(orders, start=1):
        page.set_xy(LEFT, top)
        page.set_font(FAMILY, "B", 10.0)
        page.set_text_color(*INK)
        with page.element(Element.PARAGRAPH):
            page.cell(6.0, 5.0, f"{number}")
            page.set_font(FAMILY, "", 10.0)
            page.say_lines(order, WIDTH - 6.0, 5.0)
        top = page.get_y() + 1.0
    return top


def _lines(page: ReportPage, coupon: Coupon, top: float) -> None:
    """A line to write on for every feature, in the order of reading."""
    features = (*_ORDER, *(side for side in WINDOW if coupon.has(side)))
    line_mm = min(_LARGEST_LINE_MM, (_LINES_END - top) / (len(features) + 0.7))
    page.row_mm = line_mm
    columns = (LEFT, LEFT + 72.0, LEFT + 98.0, LEFT + 141.0)
    top = _LINES_END - line_mm * len(features)
    with page.group(Element.TABLE):
        _line_heads(page, columns, top - line_mm)
        for number, feature in enumerate(features):
            y = top + line_mm * number
            if feature.kind is not features[number - 1].kind:
                page.rule(y, INK, 0.25)
            _line(page, coupon, feature, columns, y)


def _line_heads(page: ReportPage, columns: tuple[float, ...], y: float) -> None:
    heads = (said("read"), said("should be"), said("first reading"), said("second reading"))
    with page.group(Element.ROW):
        for x, head in zip(columns, heads, strict=True):
            page.set_xy(x, y)
            page.say(head, 40.0, size=8.0, kind=Element.COLUMN_HEAD)


def _line(page: ReportPage, coupon: Coupon, feature: Feature, columns: tuple[float, ...], y: float) -> None:
    """What is read, what it should be, and two places to write on, which are cells as well."""
    page.set_draw_color(*SOFT)
    page.set_line_width(0.25)
    with page.group(Element.ROW):
        page.set_xy(columns[0], y + 0.6)
        page.say(_ALONG.get(feature, feature.in_words), 70.0, size=10.0, kind=Element.ROW_HEAD)
        page.set_xy(columns[1], y + 0.6)
        page.say(_nominal(coupon, feature), 26.0, size=10.0, colour=SOFT, kind=Element.CELL)
        for x in columns[2:]:
            with page.element(Element.CELL, instead=_TO_WRITE_ON):
                page.line(x, y + page.row_mm - 0.8, x + 39.0, y + page.row_mm - 0.8)


def _nominal(coupon: Coupon, feature: Feature) -> Part:
    nominal = coupon.nominal(feature)
    return Length(nominal) if feature.is_length else Angle(nominal, None)


def _caution(page: ReportPage) -> None:
    page.rule(278.5)
    page.set_xy(LEFT, 279.5)
    page.set_font(FAMILY, "B", 9.0)
    page.set_text_color(*INK)
    caution = paragraph(
        said("Reach in only when beam or cutter is off and everything stands still."),
        said("Eyes, ears and lungs protected as the machine needs it; never leave a laser alone."),
        said("The maker's instructions, local codes and licensed practice come first."),
    )
    page.say_lines(caution, WIDTH, 4.2)

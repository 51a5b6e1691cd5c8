"""Cut files read back by parsers that are not ours: svgpathtools, ezdxf and shapely."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ElementTree

import ezdxf
import pytest
from msgspec.structs import replace
from shapely.geometry import LinearRing, LineString, Point, Polygon, box
from svgpathtools import Path as SvgPath, parse_path

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.cut_file import CutPlan, Layer, draw, orientation_mark
from core.geometry.cut_file_text import coupon_title, dxf, svg
from core.geometry.features import Feature
from core.geometry.seats import Seats, keyed_seats
from core.geometry.stroke_digits import LETTERS, strokes

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SEATED = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
WINDOWED = Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=40.0)
SVG = "{http://www.w3.org/2000/svg}"


def svg_lines(plan: CutPlan) -> dict[str, list[SvgPath]]:
    """Paths by layer in mm with Y away from the operator, after checking that the file opens at scale."""
    root = ElementTree.fromstring(svg(draw(plan), "a <coupon> & more"))
    _, _, width, height = (float(word) for word in root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{width:g}mm"
    assert root.attrib["height"] == f"{height:g}mm"
    return {
        group.attrib["id"]: [parse_path(path.attrib["d"]).scaled(1, -1) for path in group.iter(f"{SVG}path")]
        for group in root.iter(f"{SVG}g")
    }


def svg_ring(path: SvgPath) -> Polygon:
    return Polygon([(segment.start.real, segment.start.imag) for segment in path])


def dxf_lines(plan: CutPlan) -> list[tuple[str, LineString]]:
    document = ezdxf.read(io.StringIO(dxf(draw(plan))))
    assert not document.audit().has_errors
    assert document.header["$INSUNITS"] == 4  # millimetres
    assert document.header["$MEASUREMENT"] == 1  # metric
    lines = []
    for entity in document.modelspace():
        points = [(x, y) for x, y in entity.get_points("xy")]
        lines.append((entity.dxf.layer, LinearRing(points) if entity.closed else LineString(points)))
    return lines


def test_an_svg_outline_is_the_coupon_in_true_millimetres() -> None:
    paths = svg_lines(CutPlan(coupon=COUPON, lead_in_mm=0.0))
    (outline,) = paths["cut"]
    assert outline.isclosed()
    assert outline.length() == pytest.approx(400.0, abs=1e-3)
    assert svg_ring(outline).area == pytest.approx(9600.0, abs=1e-2)
    left, right, low, high = outline.bbox()
    assert (right - left, high - low) == (pytest.approx(120.0, abs=1e-4), pytest.approx(80.0, abs=1e-4))


def test_a_dxf_outline_is_the_coupon_with_nl_at_the_origin() -> None:
    lines = dxf_lines(CutPlan(coupon=COUPON, lead_in_mm=0.0))
    assert [layer for layer, _ in lines] == ["MARK", "CUT"]
    assert Polygon(lines[1][1]).equals(box(0.0, 0.0, 120.0, 80.0))


def test_svg_and_dxf_hold_the_same_lines() -> None:
    plan = CutPlan(
        coupon=replace(WINDOWED, seats=SEATED.seats),
        kerf_mm=0.2,
        tab_mm=2.0,
        columns=2,
        rows=2,
        spacing_mm=20.0,
        lead_in_mm=3.0,
    )
    drawing = draw(plan)
    in_svg = [path for layer in Layer for path in svg_lines(plan)[layer]]
    in_dxf = dxf_lines(plan)
    assert len(in_svg) == len(in_dxf) == len(drawing.lines)
    for path, (_, line) in zip(in_svg, in_dxf, strict=True):
        assert path.length() == pytest.approx(line.length, abs=2e-3)


def test_the_mark_is_chiral_lies_beside_nl_and_its_long_leg_along_x() -> None:
    for coupon in (COUPON, WINDOWED, Coupon(width_mm=40.0, height_mm=300.0), Coupon(width_mm=10.0, height_mm=10.0)):
        (x_end, y_end), elbow, (x_short, y_short) = orientation_mark(coupon).points
        long_mm, short_mm = x_end - elbow[0], y_short - elbow[1]
        assert y_end == elbow[1]
        assert x_short == elbow[0]
        assert long_mm == pytest.approx(2.0 * short_mm)
        assert short_mm > 0.0
        # In the near-left quarter, off every edge by at least as much as the short leg is long (0.35 and 0.4 of it).
        assert LineString(orientation_mark(coupon).points).within(box(0, 0, coupon.width_mm / 2, coupon.height_mm / 2))
        assert min(elbow) > 0.8 * short_mm


def test_no_symmetry_of_the_rectangle_leaves_the_mark_in_place() -> None:
    """Turned over either way, by half a turn, and (square coupon) by quarter turns or over a diagonal."""
    side = 100.0
    mark = LineString(orientation_mark(Coupon(width_mm=side, height_mm=side)).points)

    def turned(a: int, b: int, c: int, d: int) -> LineString:
        half = side / 2.0
        return LineString(
            [(half + a * (x - half) + b * (y - half), half + c * (x - half) + d * (y - half)) for x, y in mark.coords]
        )

    for symmetry in ((-1, 0, 0, 1), (1, 0, 0, -1), (-1, 0, 0, -1), (0, 1, 1, 0), (0, -1, 1, 0), (0, 1, -1, 0)):
        assert mark.hausdorff_distance(turned(*symmetry)) > 3.0


def test_kerf_moves_the_outline_out_and_the_window_in_by_half() -> None:
    lines = dxf_lines(CutPlan(coupon=WINDOWED, kerf_mm=0.3, lead_in_mm=0.0))
    window, outline = (Polygon(line) for layer, line in lines if layer == "CUT")
    assert outline.bounds == pytest.approx((-0.15, -0.15, 120.15, 80.15))
    assert window.bounds == pytest.approx((30.15, 20.15, 89.85, 59.85))


def test_the_window_is_cut_before_the_outline_and_marks_before_both() -> None:
    layers = [line.layer for line in draw(CutPlan(coupon=WINDOWED)).lines]
    assert layers == [Layer.MARK, *[Layer.CUT] * 4]  # each outline behind its lead-in


@pytest.mark.parametrize("coupon", [COUPON, WINDOWED])
def test_start_and_tabs_keep_away_from_corners_and_from_mid_side(coupon: Coupon) -> None:
    tab_mm = 2.0
    lines = [line for layer, line in dxf_lines(CutPlan(coupon=coupon, tab_mm=tab_mm, lead_in_mm=2.0)) if layer == "CUT"]
    sizes = [(120.0, 80.0)] if coupon is COUPON else [(60.0, 40.0), (120.0, 80.0)]
    for place, (width, height) in enumerate(sizes):
        ring = LinearRing(box(60 - width / 2, 40 - height / 2, 60 + width / 2, 40 + height / 2).exterior.coords)
        pieces = lines[5 * place : 5 * place + 5]
        assert len(pieces) == 5  # broken by four tabs
        cut = sum(piece.length for piece in pieces) - 2.0
        assert cut == pytest.approx(ring.length - 4 * tab_mm)
        scars = [Point(pieces[0].coords[1]), *(Point(piece.coords[-1]) for piece in pieces[:-1])]
        for scar in scars:
            assert scar.distance(ring) < 1e-9
            side = width if min(abs(scar.y - 40 - height / 2), abs(scar.y - 40 + height / 2)) < 1e-9 else height
            along = (scar.x - 60) if side == width else (scar.y - 40)
            assert side / 6 - tab_mm / 2 - 1e-9 <= abs(along) <= side / 6 + tab_mm / 2 + 1e-9


def test_the_lead_in_starts_in_the_waste_and_ends_where_the_closed_outline_starts() -> None:
    cuts = [line for layer, line in dxf_lines(CutPlan(coupon=WINDOWED, lead_in_mm=3.0)) if layer == "CUT"]
    window_lead_in, window, lead_in, outline = cuts
    assert list(lead_in.coords) == [(pytest.approx(80.0), pytest.approx(-3.0)), (pytest.approx(80.0), 0.0)]
    assert outline.coords[0] == outline.coords[-1] == lead_in.coords[-1]
    assert Point(window_lead_in.coords[0]).within(box(30.0, 20.0, 90.0, 60.0))
    assert window.coords[0] == window.coords[-1] == window_lead_in.coords[-1]


@pytest.mark.parametrize("seats", [None, keyed_seats(120.0, 80.0)])
@pytest.mark.parametrize("lead_in_mm", [0.0, 2.0])
def test_every_outline_is_one_closed_path_in_both_formats(seats: Seats | None, lead_in_mm: float) -> None:
    """A cutting program tells inside from outside, and offsets for the kerf, by closed paths only."""
    plan = CutPlan(coupon=Coupon(width_mm=120.0, height_mm=80.0, seats=seats), lead_in_mm=lead_in_mm)
    space = ezdxf.read(io.StringIO(dxf(draw(plan)))).modelspace()
    closed = [line for line in space.query("LWPOLYLINE") if line.dxf.layer == "CUT" and line.closed]
    assert len(closed) == 1
    assert Polygon(closed[0].get_points("xy")).bounds == pytest.approx((0.0, 0.0, 120.0, 80.0))
    assert svg(draw(plan), "coupon").split('id="cut"')[1].count(' Z"') == 1


def test_tabs_leave_no_closed_outline_and_the_title_says_so() -> None:
    tabbed = CutPlan(coupon=COUPON, tab_mm=2.0)
    assert "outline in open pieces between the tabs" in str(coupon_title(tabbed, corrected=False))
    assert "open pieces" not in str(coupon_title(CutPlan(coupon=COUPON), corrected=False))


@pytest.mark.parametrize("kerf_mm", [0.0, 0.2, 3.0])
def test_the_seats_are_cut_where_the_jaws_are_told_to_lie(kerf_mm: float) -> None:
    """What is left of the sheet, by shapely: the whole rectangle without four triangles of the keyed legs."""
    lines = dxf_lines(CutPlan(coupon=SEATED, lead_in_mm=0.0, kerf_mm=kerf_mm))
    left = Polygon(lines[1][1]).buffer(-kerf_mm / 2.0, join_style="mitre", mitre_limit=10.0)
    rectangle = box(0.0, 0.0, 120.0, 80.0)
    for corner, (x, y, along, up) in {
        Feature.NL: (0.0, 0.0, 1.0, 1.0),
        Feature.NR: (120.0, 0.0, -1.0, 1.0),
        Feature.FR: (120.0, 80.0, -1.0, -1.0),
        Feature.FL: (0.0, 80.0, 1.0, -1.0),
    }.items():
        legs = SEATED.legs(corner)
        triangle = Polygon([(x, y), (x + along * legs.along_x_mm, y), (x, y + up * legs.along_y_mm)])
        rectangle = rectangle.difference(triangle)
    assert left.symmetric_difference(rectangle).area == pytest.approx(0.0, abs=1e-6)
    for direction, diagonal in (((1.0, 1.0), Feature.NL_FR), ((-1.0, 1.0), Feature.NR_FL)):
        legs = SEATED.legs(Feature.NL if diagonal is Feature.NL_FR else Feature.NR)
        way = (direction[0] * (120.0 - legs.along_x_mm), 80.0 - legs.along_y_mm)
        along = [(x * way[0] + y * way[1]) / math.hypot(*way) for x, y in left.exterior.coords]
        assert max(along) - min(along) == pytest.approx(SEATED.nominal(diagonal), abs=1e-6)


@pytest.mark.parametrize("size", [(120.0, 80.0), (40.0, 30.0), (80.0, 300.0), (300.0, 200.0)])
@pytest.mark.parametrize("kerf_mm", [0.0, 0.3])
def test_no_scar_lies_on_a_seat_or_where_the_jaws_reach(size: tuple[float, float], kerf_mm: float) -> None:
    coupon = Coupon(width_mm=size[0], height_mm=size[1], seats=keyed_seats(*size))
    reach_mm = min(8.0, 0.1 * coupon.shorter_side_mm)
    plan = CutPlan(coupon=coupon, kerf_mm=kerf_mm, tab_mm=1.0, lead_in_mm=1.0)
    pieces = [line for layer, line in dxf_lines(plan) if layer == "CUT"]
    scars = [Point(pieces[0].coords[1]), *(Point(end) for p in pieces for end in (p.coords[0], p.coords[-1]))]
    corners = {Feature.NL: (0, 0), Feature.NR: (size[0], 0), Feature.FR: size, Feature.FL: (0, size[1])}
    for corner, (x, y) in corners.items():
        legs = coupon.legs(corner)
        for scar in scars:
            away_x, away_y = abs(scar.x - x), abs(scar.y - y)
            assert away_x > legs.along_x_mm + reach_mm or away_y > legs.along_y_mm + reach_mm


@pytest.mark.parametrize("window", [None, (60.0, 69.0), (109.0, 20.0)])
@pytest.mark.parametrize("size", [(120.0, 80.0), (40.0, 30.0), (10.0, 10.0), (300.0, 100.0)])
def test_the_mark_stays_clear_of_the_seat(size: tuple[float, float], window: tuple[float, float] | None) -> None:
    if window is not None and size != (120.0, 80.0):
        window = (0.5 * size[0], size[1] - 2.2 * 5.0) if size[1] > 20.0 else None
    coupon = Coupon(
        width_mm=size[0],
        height_mm=size[1],
        window_width_mm=window and window[0],
        window_height_mm=window and window[1],
        seats=keyed_seats(*size),
    )
    mark = LineString(orientation_mark(coupon).points)
    legs = coupon.legs(Feature.NL)
    near_mm = mark.bounds[1]
    assert mark.distance(LineString([(legs.along_x_mm, 0.0), (0.0, legs.along_y_mm)])) > 0.9 * near_mm
    assert mark.bounds[2] < size[0] / 2.0


def test_a_grid_names_its_places_and_keeps_them_apart() -> None:
    plan = CutPlan(coupon=COUPON, columns=3, rows=2, spacing_mm=12.0, lead_in_mm=0.0)
    outlines = [Polygon(line) for layer, line in dxf_lines(plan) if layer == "CUT"]
    assert len(outlines) == 6
    gaps = [a.distance(b) for place, a in enumerate(outlines) for b in outlines[:place]]
    assert min(gaps) == pytest.approx(12.0)
    marks = [line for layer, line in dxf_lines(plan) if layer == "MARK"]
    assert all(any(mark.within(outline) for outline in outlines) for mark in marks)
    assert len({tuple(tuple(stroke) for stroke in strokes(f"{c}{r}", (0, 0), 6)) for c in "ABC" for r in (1, 2)}) == 6


def test_every_sign_fits_its_field_and_differs_from_the_others() -> None:
    drawn = {sign: tuple(strokes(sign, (0.0, 0.0), 6.0)) for sign in LETTERS + "0123456789"}
    assert len(set(drawn.values())) == len(drawn)
    for lines in drawn.values():
        assert all(0.0 <= x <= 4.0 and 0.0 <= y <= 6.0 for line in lines for x, y in line)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"kerf_mm": -0.1}, "kerf"),
        ({"kerf_mm": math.nan}, "kerf"),
        ({"tab_mm": 20.0}, "tab"),
        ({"lead_in_mm": 30.0}, "lead-in"),
        ({"columns": 9}, "grid"),
        ({"rows": 0}, "grid"),
        ({"columns": 2, "spacing_mm": 2.0}, "spacing"),
        ({"coupon": Coupon(width_mm=120, height_mm=80, window_width_mm=110, window_height_mm=75)}, "window"),
    ],
)
def test_a_plan_that_cannot_be_cut_is_refused_by_name(changed: dict[str, object], named: str) -> None:
    with pytest.raises(BadInputError, match=named):
        CutPlan(**{"coupon": COUPON, **changed})

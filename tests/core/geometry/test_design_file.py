"""Corrected designs read back by other parsers, cut by a machine that leans and stretches, and measured as cut."""

from __future__ import annotations

import cmath
import io
import math
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest
from ezdxf import units
from svgpathtools import Document

from core.errors import BadInputError
from core.geometry.affine import Affine, cut_by
from core.geometry.coupon import Coupon
from core.geometry.cut_file import CutPlan, Layer, corrected, draw
from core.geometry.design_file_dxf import correct_dxf
from core.geometry.design_file_svg import correct_svg

CASES = [(0.8, 0.0, 0.0), (-1.5, 0.0, 0.0), (0.6, 0.004, -0.003)]


def cut(point: complex, skew_deg: float, scale_x: float, scale_y: float, turned_deg: float = 7.0) -> complex:
    """Where a machine puts a point: X and Y motions of wrong length, 90 degrees less the skew apart, turned anyhow."""
    x_motion = cmath.rect(1.0 + scale_x, math.radians(turned_deg))
    y_motion = cmath.rect(1.0 + scale_y, math.radians(turned_deg + 90.0 - skew_deg))
    return point.real * x_motion + point.imag * y_motion


def assert_congruent(cut_points: list[complex], design: list[complex]) -> None:
    """Every distance between points is as drawn, and nothing is turned over."""
    assert len(cut_points) == len(design)
    for i in range(len(design)):
        for j in range(i):
            assert abs(cut_points[i] - cut_points[j]) == pytest.approx(abs(design[i] - design[j]), abs=1e-6)
    (a, b, c), (d, e, f) = cut_points[:3], design[:3]
    assert ((b - a).conjugate() * (c - a)).imag * ((e - d).conjugate() * (f - d)).imag > 0.0


SVG_DESIGN = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150">
<!-- router template -->
<defs><path id="unused" d="M 0 0 L 1 1"/></defs>
<g transform="translate(10 5) rotate(20)"><path d="M 20 30 L 140 30 L 140 100 L 20 70"/></g>
<path d="M 3 3 L 190 4 L 50 140"/><text x="5" y="5">hinge</text><circle cx="60" cy="60" r="20"/></svg>"""


def svg_points(text: str, tmp_path: Path) -> list[complex]:
    """Points of all straight paths in machine axes (Y up), flattened by an independent parser."""
    file = tmp_path / "design.svg"
    file.write_text(text, encoding="utf-8")
    points = []
    for path in Document(str(file)).paths():
        if all(type(segment).__name__ == "Line" for segment in path):
            points += [segment.start.conjugate() for segment in path] + [path[-1].end.conjugate()]
    return points


@pytest.mark.parametrize(("skew_deg", "scale_x", "scale_y"), CASES)
def test_a_corrected_svg_comes_out_as_drawn(tmp_path: Path, skew_deg: float, scale_x: float, scale_y: float) -> None:
    fixed = correct_svg(SVG_DESIGN.encode(), cut_by(skew_deg, scale_x, scale_y).inverse)
    as_cut = [cut(point, skew_deg, scale_x, scale_y) for point in svg_points(fixed.content.decode(), tmp_path)]
    assert_congruent(as_cut, svg_points(SVG_DESIGN, tmp_path))
    assert (fixed.texts, fixed.circles) == (1, 1)
    assert "router template" in fixed.content.decode()


def test_the_svg_page_keeps_its_scale_and_cuts_nothing_off(tmp_path: Path) -> None:
    fixed = correct_svg(SVG_DESIGN.encode(), cut_by(2.0).inverse)
    document = Document(str(_written(tmp_path, fixed.content.decode())))
    root = document.tree.getroot()
    left, top, width, height = map(float, root.get("viewBox").split())
    assert float(root.get("width").removesuffix("mm")) / width == pytest.approx(1.0, rel=1e-8)
    assert float(root.get("height").removesuffix("mm")) / height == pytest.approx(1.0, rel=1e-8)
    # A frame drawn along the old page's border still lies inside the new one.
    framed = SVG_DESIGN.replace("</svg>", '<path d="M 0 0 L 200 0 L 200 150 L 0 150"/></svg>')
    for point in svg_points(correct_svg(framed.encode(), cut_by(2.0).inverse).content.decode(), tmp_path):
        assert left - 1e-6 <= point.real <= left + width + 1e-6
        assert top - 1e-6 <= -point.imag <= top + height + 1e-6


def _written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "fixed.svg"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hello", "not an SVG file"),
        ("<html/>", "not an SVG file"),
        ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ten 5"/>', "four numbers"),
        ('<svg xmlns="http://www.w3.org/2000/svg" width="0" height="20" viewBox="0 0 10 5"/>', "must have a size"),
        ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 0 5"/>', "more than zero"),
    ],
)
def test_what_is_no_svg_is_said(text: str, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        correct_svg(text.encode(), cut_by(1.0).inverse)


@pytest.mark.parametrize("size", ['width="20" height="10"', "", 'width="50%" height="50%" viewBox="0 0 20 10"'])
def test_svg_pages_without_a_plain_size_work_too(tmp_path: Path, size: str) -> None:
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {size}><path d="M 1 1 L 9 1 L 9 8"/></svg>'
    fixed = correct_svg(text.encode(), cut_by(1.0).inverse)
    assert_congruent(
        [cut(p, 1.0, 0.0, 0.0) for p in svg_points(fixed.content.decode(), tmp_path)], [1 - 1j, 9 - 1j, 9 - 8j]
    )


def test_never_twice() -> None:
    once = correct_svg(SVG_DESIGN.encode(), cut_by(1.0).inverse).content
    with pytest.raises(BadInputError, match="corrected before"):
        correct_svg(once, cut_by(1.0).inverse)
    once = correct_dxf(dxf_design().encode(), cut_by(1.0).inverse).content
    with pytest.raises(BadInputError, match="corrected before"):
        correct_dxf(once, cut_by(1.0).inverse)


OUTLINE = [(20.0, 30.0), (140.0, 30.0), (150.0, 100.0), (20.0, 70.0)]


def dxf_design() -> str:
    document = ezdxf.new("R2010", units=units.MM)
    space = document.modelspace()
    space.add_lwpolyline(OUTLINE)
    space.add_circle((60.0, 60.0), 20.0)
    space.add_text("hinge")
    block = document.blocks.new("peg")
    block.add_lwpolyline([(0.0, 0.0), (8.0, 0.0), (8.0, 5.0)])
    nested = document.blocks.new("pegs")
    nested.add_blockref("peg", (3.0, 1.0), dxfattribs={"rotation": 30.0})
    space.add_blockref("pegs", (200.0, 20.0), dxfattribs={"rotation": 15.0})
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


@pytest.mark.parametrize(("skew_deg", "scale_x", "scale_y"), CASES)
def test_a_corrected_dxf_comes_out_as_drawn(skew_deg: float, scale_x: float, scale_y: float) -> None:
    fixed = correct_dxf(dxf_design().encode(), cut_by(skew_deg, scale_x, scale_y).inverse)
    space = ezdxf.read(io.StringIO(fixed.content.decode())).modelspace()
    lines = [[complex(x, y) for x, y in line.get_points("xy")] for line in space.query("LWPOLYLINE")]
    outline, peg = ([cut(point, skew_deg, scale_x, scale_y) for point in line] for line in lines)
    assert_congruent(outline, [complex(*point) for point in OUTLINE])
    assert_congruent(peg, [0j, 8 + 0j, 8 + 5j])
    # The circle is an ellipse in the file and a circle when cut.
    (ellipse,) = space.query("ELLIPSE")
    as_cut = [cut(complex(p.x, p.y), skew_deg, scale_x, scale_y) for p in ellipse.flattening(0.01)]
    middle = cut(complex(ellipse.dxf.center.x, ellipse.dxf.center.y), skew_deg, scale_x, scale_y)
    assert [abs(point - middle) for point in as_cut] == pytest.approx([20.0] * len(as_cut), abs=1e-6)
    assert (fixed.texts, fixed.circles, fixed.left_out) == (1, 1, 0)


def test_what_is_no_dxf_is_said() -> None:
    with pytest.raises(BadInputError, match="not a DXF file"):
        correct_dxf(b"hello\nworld\n", cut_by(1.0).inverse)


@pytest.mark.parametrize(("skew_deg", "scale_x", "scale_y"), CASES)
def test_the_corrected_coupon_is_cut_square(skew_deg: float, scale_x: float, scale_y: float) -> None:
    drawing = draw(CutPlan(coupon=Coupon(width_mm=120.0, height_mm=80.0), lead_in_mm=0.0))
    fixed = corrected(drawing, cut_by(skew_deg, scale_x, scale_y).inverse)
    (outline,) = (line.points for line in fixed.lines if line.layer is Layer.CUT)
    as_cut = [cut(complex(*point), skew_deg, scale_x, scale_y) for point in outline]
    sides = [b - a for a, b in pairwise(as_cut)]
    assert [abs(side) for side in sides[1:4]] == pytest.approx([80.0, 120.0, 80.0])
    for one, other in pairwise(sides[:4]):
        assert math.degrees(cmath.phase(other / one)) == pytest.approx(90.0)
    xs, ys = zip(*(point for line in fixed.lines for point in line.points), strict=True)
    assert (fixed.low, fixed.high) == ((min(xs), min(ys)), (max(xs), max(ys)))


def test_a_map_and_its_inverse_undo_one_another() -> None:
    done = cut_by(3.0, 0.01, -0.02)
    assert done.inverse.apply(done.apply((12.0, -7.0), (3.0, 4.0)), (3.0, 4.0)) == pytest.approx((12.0, -7.0))
    with pytest.raises(BadInputError, match="turn the design over"):
        Affine(xx=-1.0, xy=0.0, yx=0.0, yy=1.0)

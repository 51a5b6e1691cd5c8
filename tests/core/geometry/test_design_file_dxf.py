"""DXF as other programs write it: old versions, rounded outlines, code pages, binary, damaged; read back and measured.

Against GDAL's own reader on files of everyday packages: tests/endurance/design_corpus.py.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable

import ezdxf
import pytest
from ezdxf import units
from ezdxf.document import Drawing
from shapely.geometry import LineString, Point, Polygon

from core.errors import BadInputError
from core.geometry import design_file_dxf
from core.geometry.affine import cut_by
from core.geometry.corrected_design import FLATTENED_MM, MOST_IN_FILE
from core.geometry.design_file_dxf import correct_dxf

CUT = cut_by(1.5, 0.004, -0.003)
MAP = CUT.inverse
# A plate with rounded corners, radius 10: bulge of a quarter turn = tan(22.5 degrees).
BULGE = math.tan(math.radians(22.5))
ROUNDED = [
    *((10.0, 0.0, 0.0), (110.0, 0.0, BULGE), (120.0, 10.0, 0.0), (120.0, 70.0, BULGE)),
    *((110.0, 80.0, 0.0), (10.0, 80.0, BULGE), (0.0, 70.0, 0.0), (0.0, 10.0, BULGE)),
]


def drawing(version: str = "R12") -> Drawing:
    document = ezdxf.new(version, units=units.MM)
    space = document.modelspace()
    space.add_line((0.0, 0.0), (5.0, 5.0))
    if version == "R12":
        space.add_polyline2d(ROUNDED, format="xyb", close=True, dxfattribs={"layer": "0", "color": 3})
    else:
        space.add_lwpolyline(ROUNDED, format="xyb", close=True, dxfattribs={"color": 3})
    space.add_circle((60.0, 40.0), 20.0)
    space.add_arc((60.0, 40.0), 30.0, 10.0, 100.0)
    return document


def as_bytes(document: Drawing, newline: str = "\n") -> bytes:
    text = io.StringIO()
    document.write(text)
    return text.getvalue().replace("\n", newline).encode(document.output_encoding)


def opened(content: bytes) -> Drawing:
    return ezdxf.read(io.StringIO(content.decode("utf-8").replace("\r\n", "\n")))


def cut_again(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Where the machine puts the corrected file's points; the plate's middle stays."""
    return [CUT.apply(point, (60.0, 40.0)) for point in points]


def test_version_r12_keeps_circles_arcs_and_rounded_outlines_in_their_order() -> None:
    fixed = correct_dxf(as_bytes(drawing()), MAP)
    things = list(opened(fixed.content).modelspace())
    assert [thing.dxftype() for thing in things] == ["LINE", "POLYLINE", "POLYLINE", "POLYLINE"]
    assert [thing.is_closed for thing in things[1:]] == [True, True, False]
    assert (fixed.flattened, fixed.circles, fixed.left_out) == (3, 0, 0)
    assert things[1].dxf.color == 3
    circle = cut_again([(v.dxf.location.x, v.dxf.location.y) for v in things[2].vertices])
    middle = [sum(axis) / len(circle) for axis in zip(*circle, strict=True)]
    assert [math.dist(point, middle) for point in circle] == pytest.approx([20.0] * len(circle), abs=1e-4)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_a_rounded_outline_stays_one_closed_line_within_the_stated_tolerance(version: str) -> None:
    fixed = correct_dxf(as_bytes(drawing(version)), MAP)
    outline = list(opened(fixed.content).modelspace())[1]
    assert outline.is_closed
    points = (
        [(v.dxf.location.x, v.dxf.location.y) for v in outline.vertices]
        if version == "R12"
        else list(outline.get_points("xy"))
    )
    as_cut = Polygon(cut_again(points))
    # A plate of 120 x 80 less four corners: (4 - pi) r^2 (elementary geometry).
    exact = 120.0 * 80.0 - (4.0 - math.pi) * 100.0
    assert as_cut.area == pytest.approx(exact, abs=FLATTENED_MM * 2.0 * math.pi * 10.0)
    for x, y, side in ((110.0, 10.0, -1.0), (110.0, 70.0, 1.0)):
        centre = Point(x, y)
        far = [
            centre.distance(Point(point)) - 10.0
            for line in zip(as_cut.exterior.coords, as_cut.exterior.coords[1:], strict=False)
            for point in (line[0], LineString(line).interpolate(0.5, normalized=True))
            if Point(point).x > x and side * (Point(point).y - y) > 0.0
        ]
        assert len(far) > 8
        assert max(map(abs, far)) < 1.01 * FLATTENED_MM
    assert as_cut.is_valid


def test_circles_become_ellipses_where_the_version_has_them() -> None:
    fixed = correct_dxf(as_bytes(drawing("R2010")), MAP)
    kinds = [thing.dxftype() for thing in opened(fixed.content).modelspace()]
    assert kinds == ["LINE", "LWPOLYLINE", "ELLIPSE", "ELLIPSE"]
    assert (fixed.flattened, fixed.circles) == (1, 2)


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_one_file_stays_one_file_with_its_own_ends_of_lines(newline: str) -> None:
    content = correct_dxf(as_bytes(drawing("R2010"), newline), MAP).content
    assert content.count(b"EOF") == 1
    assert (b"\r\n" in content) == (newline == "\r\n")
    assert b"\r\r" not in content


def test_a_code_page_before_2007_stays() -> None:
    document = drawing("R2000")
    document.layers.add("Fräsen")
    document.modelspace()[0].dxf.layer = "Fräsen"
    content = as_bytes(document)
    assert "Fräsen".encode("cp1252") in content
    fixed = correct_dxf(content, MAP).content
    assert "Fräsen".encode("cp1252") in fixed


def test_a_binary_file_is_read() -> None:
    binary = io.BytesIO()
    drawing("R2000").write(binary, fmt="bin")
    things = list(opened(correct_dxf(binary.getvalue(), MAP).content).modelspace())
    assert len(things) == 4


def test_a_file_that_only_a_repairing_reader_opens_is_read() -> None:
    content = as_bytes(drawing("R2000"))
    # A thing refers to an owner that is nowhere, and the last line is missing.
    damaged = content.replace(b"  0\nEOF\n", b"", 1)
    with pytest.raises(ezdxf.DXFError):
        ezdxf.read(io.StringIO(damaged.decode("cp1252").replace("AcDbLine", "")))
    assert len(list(opened(correct_dxf(damaged, MAP).content).modelspace())) == 4


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_never_twice_in_any_version(version: str) -> None:
    once = correct_dxf(as_bytes(drawing(version)), MAP).content
    with pytest.raises(BadInputError, match="corrected before"):
        correct_dxf(once, MAP)


def test_what_the_writer_drops_is_noticed_before_anything_is_called_corrected(monkeypatch: pytest.MonkeyPatch) -> None:
    """R12 has no ellipses, and the library's writer leaves them out without a word."""
    keep: Callable[[Drawing, object], int] = lambda document, space: 0  # noqa: E731
    monkeypatch.setattr(design_file_dxf, "_reshape", keep)
    with pytest.raises(BadInputError, match="would lack"):
        correct_dxf(as_bytes(drawing("R12")), MAP)


def test_a_dimension_that_nobody_drew_is_left_out_and_counted() -> None:
    """Programs may leave drawing it to the reader; it used to vanish without a word."""
    document = drawing("R2000")
    drawn = document.modelspace().add_linear_dim(base=(60.0, -12.0), p1=(0.0, 0.0), p2=(120.0, 0.0))
    assert correct_dxf(as_bytes(document), MAP).undrawn == 1
    drawn.render()
    fixed = correct_dxf(as_bytes(document), MAP)
    assert (fixed.undrawn, fixed.texts) == (0, 1)


SMALLEST = "0\nPOINT\n10\n1\n20\n2\n"


def bare(things: str) -> bytes:
    return f"0\nSECTION\n2\nENTITIES\n{things}0\nENDSEC\n0\nEOF\n".encode()


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\n  "])
def test_a_file_of_too_many_things_is_refused_before_the_library_reads_it(
    newline: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """8 MB of points took the library 30 s and 600 MB, of layers or vertices as much."""
    monkeypatch.setattr(design_file_dxf.recover, "read", None)
    content = bare(SMALLEST * (MOST_IN_FILE + 1)).replace(b"\n", newline.encode())
    with pytest.raises(BadInputError, match=f"more than {MOST_IN_FILE} things"):
        correct_dxf(content, MAP)


def test_values_of_zero_are_no_things(monkeypatch: pytest.MonkeyPatch) -> None:
    """Layer 0, and coordinates of 0, stand on most lines."""
    monkeypatch.setattr(design_file_dxf, "MOST_IN_FILE", 8)
    line = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n0\n21\n1\n"
    assert correct_dxf(bare(line * 5), MAP).content


def test_a_binary_file_of_too_many_things_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(design_file_dxf, "MOST_IN_FILE", 3)
    binary = io.BytesIO()
    drawing("R2010").write(binary, fmt="bin")
    with pytest.raises(BadInputError, match="more than"):
        correct_dxf(binary.getvalue(), MAP)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@pytest.mark.parametrize("cut", [40, 400])
def test_a_file_that_breaks_off_is_refused(version: str, cut: int) -> None:
    """A repairing reader takes what is there; what is not would be missing without a word."""
    content = as_bytes(drawing(version), "\r\n")
    assert correct_dxf(content + b"\x1a", MAP).content  # as old systems end a file
    with pytest.raises(BadInputError, match="breaks off"):
        correct_dxf(content[:-cut], MAP)


def test_a_file_in_which_nothing_is_drawn_is_refused() -> None:
    """Or drawn on paper only, which no machine cuts and nothing corrects."""
    document = ezdxf.new("R2000")
    document.layout("Layout1").add_line((0.0, 0.0), (1.0, 1.0))
    with pytest.raises(BadInputError, match="nothing is drawn"):
        correct_dxf(as_bytes(document), MAP)
    with pytest.raises(BadInputError, match="breaks off"):
        correct_dxf(b"", MAP)

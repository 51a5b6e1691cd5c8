"""SVG as other programs write it: encodings, units, style rules, references; each read back by another parser.

The picture of each kind against the map of the original, by a renderer of others: tests/endurance/design_corpus.py.
"""

from __future__ import annotations

import gzip
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from core.errors import BadInputError
from core.geometry import design_file_svg
from core.geometry.affine import cut_by
from core.geometry.corrected_design import MOST_IN_FILE
from core.geometry.design_file import correct_design
from core.geometry.design_file_svg import MARK, correct_svg
from tests.core.geometry.test_design_file import assert_congruent, cut, svg_points

SKEW_DEG = 1.5
MAP = cut_by(SKEW_DEG).inverse
SVG = 'xmlns="http://www.w3.org/2000/svg"'
PATH = '<path d="M 3 3 L 19 4 L 5 14"/>'
DRAWN = [3 - 3j, 19 - 4j, 5 - 14j]


def corrected(text: str) -> str:
    return correct_svg(text.encode(), MAP).content.decode()


def assert_as_drawn(text: str, tmp_path: Path, scale: float = 1.0) -> None:
    points = [cut(point, SKEW_DEG, 0.0, 0.0) for point in svg_points(text, tmp_path)]
    assert_congruent(points, [scale * point for point in DRAWN])


@pytest.mark.parametrize("unit", ["mm", "in", "cm", "px", "", "pt"])
def test_a_page_with_sizes_and_no_view_box_keeps_its_scale(unit: str, tmp_path: Path) -> None:
    """A drawing's unit is a pixel then, 96 to the inch (CSS Values)."""
    per_inch = {"mm": 25.4, "in": 1.0, "cm": 2.54, "px": 96.0, "": 96.0, "pt": 72.0}[unit]
    text = corrected(f'<svg {SVG} width="40{unit}" height="30{unit}">{PATH}</svg>')
    root = ElementTree.fromstring(text)
    width = float(root.get("viewBox", "").split()[2])
    assert float(root.get("width", "").removesuffix(unit)) / width == pytest.approx(per_inch / 96.0)
    assert_as_drawn(text, tmp_path)


def test_lengths_in_percent_stay_as_long_as_they_were(tmp_path: Path) -> None:
    text = corrected(
        f'<svg {SVG} width="200mm" height="100mm" viewBox="0 0 200 100">{PATH}'
        '<rect x="10%" y="10%" width="50%" height="50%" stroke-width="1%"/>'
        '<svg viewBox="0 0 9 9"><rect width="10%"/></svg>'
        '<symbol id="s" viewBox="0 0 1 1"/><use href="#s"/></svg>'
    )
    root = ElementTree.fromstring(text)
    rect, inner = root.findall(".//{*}rect")
    assert [float(rect.get(name, "")) for name in ("x", "y", "width", "height")] == [20.0, 10.0, 100.0, 50.0]
    assert float(rect.get("stroke-width", "")) == pytest.approx((200**2 + 100**2) ** 0.5 / 2**0.5 / 100)
    assert inner.get("width") == "10%"
    nested, use = root.find(".//{*}g/{*}svg"), root.find(".//{*}use")
    assert nested is not None
    assert use is not None
    assert (nested.get("width"), nested.get("height"), use.get("width")) == ("200", "100", "200")


def test_a_transform_of_the_whole_drawing_is_reckoned_with() -> None:
    """The map of the page, in the drawing's turned axes: turned back, corrected, turned."""
    text = corrected(f'<svg {SVG} viewBox="0 0 20 20" transform="rotate(90)">{PATH}</svg>')
    found = re.search(r"matrix\(([^)]*)\)", text)
    assert found is not None
    xx, yx, xy, yy, *_ = map(float, found[1].split())
    wanted = MAP.y_down
    assert (xx, xy) == (pytest.approx(wanted.yy), pytest.approx(-wanted.yx, abs=1e-12))
    assert (yx, yy) == (pytest.approx(-wanted.xy), pytest.approx(wanted.xx))


def test_a_drawing_that_does_not_fill_its_page_keeps_the_smaller_scale(tmp_path: Path) -> None:
    text = corrected(f'<svg {SVG} width="80" height="20" viewBox="0 0 20 20">{PATH}</svg>')
    root = ElementTree.fromstring(text)
    left, _, width, height = map(float, root.get("viewBox", "").split())
    assert (float(root.get("width", "")) / width, float(root.get("height", "")) / height) == (
        pytest.approx(1.0),
        pytest.approx(1.0),
    )
    assert left <= -30.0  # xMidYMid
    assert_as_drawn(text, tmp_path)


def test_style_rules_still_find_the_children(tmp_path: Path) -> None:
    text = corrected(f"<svg {SVG} viewBox='0 0 20 20'><style>svg > path {{fill:none}}</style>{PATH}</svg>")
    root = ElementTree.fromstring(text)
    assert root.find("{*}path") is not None
    assert_as_drawn(text, tmp_path)


def test_what_is_drawn_a_second_time_by_a_reference_is_corrected_once(tmp_path: Path) -> None:
    xlink = 'xmlns:xlink="http://www.w3.org/1999/xlink"'
    text = corrected(
        f'<svg {SVG} {xlink} viewBox="0 0 20 20"><g id="a">{PATH}</g>'
        '<use xlink:href="#a" transform="translate(5)"/></svg>'
    )
    root = ElementTree.fromstring(text)
    drawn = root.find(".//{*}g[@id='a']")
    assert drawn is not None
    assert drawn.get("transform") is None
    assert len(re.findall(r"matrix\(", text)) == 2
    assert_as_drawn(text, tmp_path)


def test_rules_that_would_lose_their_things_are_refused() -> None:
    text = f'<svg {SVG}><style>svg > g {{fill:none}}</style><g id="a">{PATH}</g><use href="#a"/></svg>'
    with pytest.raises(BadInputError, match="style rules depend"):
        corrected(text)


@pytest.mark.parametrize("own", ["rotate(10 5 5)", "translate(3,4) scale(2)", "translate(3 rotate", ""])
def test_the_map_comes_before_a_things_own_transform(own: str) -> None:
    text = corrected(f'<svg {SVG} viewBox="0 0 20 20"><path transform="{own}" d="M 3 3 L 9 9"/></svg>')
    path = ElementTree.fromstring(text).find(".//{*}path")
    assert path is not None
    if own.endswith(")") or not own:
        assert re.fullmatch(rf"matrix\([^)]*\) ?{re.escape(own)}", path.get("transform", ""))
    else:
        # What no program understands must not take the map with it.
        assert path.get("transform") == own


def test_stylesheet_instructions_entities_and_other_vocabularies_survive() -> None:
    text = corrected(
        '<?xml version="1.0"?><?xml-stylesheet type="text/css" href="cut.css"?>'
        '<!DOCTYPE svg [<!ENTITY ns "http://example.org/other">]>'
        f'<svg {SVG} xmlns:other="&ns;" viewBox="0 0 20 20"><other:layer name="cut"/>{PATH}</svg>'
    )
    assert '<?xml-stylesheet type="text/css" href="cut.css"?>' in text
    layer = ElementTree.fromstring(text).find("{http://example.org/other}layer")
    assert layer is not None
    assert layer.get("transform") is None


@pytest.mark.parametrize("encoding", ["ISO-8859-1", "UTF-16", "UTF-8"])
def test_an_encoding_stays(encoding: str, tmp_path: Path) -> None:
    source = (
        f'<?xml version="1.0" encoding="{encoding}"?><svg {SVG} viewBox="0 0 20 20"><title>Größe</title>{PATH}</svg>'
    )
    content = correct_svg(source.encode(encoding), MAP).content
    root = ElementTree.fromstring(content)
    assert root.findtext("{*}title") == "Größe"
    assert content.decode(encoding)
    assert_as_drawn(ElementTree.tostring(root, encoding="unicode"), tmp_path)


def test_a_compressed_file_stays_compressed_and_a_bomb_is_refused() -> None:
    source = gzip.compress(f'<svg {SVG} viewBox="0 0 20 20">{PATH}</svg>'.encode())
    written = correct_design("plate.svgz", source, MAP).content
    assert MARK in gzip.decompress(written).decode()
    with pytest.raises(BadInputError, match="damaged"):
        correct_svg(source[:-20], MAP)
    with pytest.raises(BadInputError, match="64 MB"):
        correct_svg(gzip.compress(b" " * (65 * 1024**2)), MAP)


def test_entities_that_grow_without_end_and_endless_groups_are_refused() -> None:
    entities = "".join(f'<!ENTITY {b} "{(f"&{a};") * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
    bomb = f'<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">{entities}]><svg {SVG}><title>&j;</title></svg>'
    with pytest.raises(BadInputError, match="not an SVG file"):
        corrected(bomb)
    with pytest.raises(BadInputError, match="too deep"):
        corrected(f"<svg {SVG}>" + "<g>" * 3000 + "</g>" * 3000 + "</svg>")


@pytest.mark.parametrize("encoding", ["UTF-8", "ISO-8859-1", "UTF-16"])
def test_a_file_without_a_namespace_is_read_as_svg_s_first_version_says(encoding: str, tmp_path: Path) -> None:
    """SVG 1.0's document type gives the namespace by itself; files of that time name none."""
    text = (
        f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.0//EN" "svg10.dtd">'
        f'<!-- <svg --><svg width="40mm" height="30mm" viewBox="0 0 40 30"><title>Größe</title>{PATH}</svg>'
    )
    fixed = correct_svg(text.encode(encoding), MAP).content.decode()
    assert "Größe" in fixed or "Gr&#246;" in fixed
    assert_as_drawn(fixed, tmp_path)


def test_an_empty_namespace_is_none(tmp_path: Path) -> None:
    """Found by the fuzzer: the name was said twice then, and the library's own error escaped."""
    for text in (f'<svg xmlns="" width="40mm" height="30mm" viewBox="0 0 40 30">{PATH}</svg>',
                 f'<svg width="40mm" height="30mm" viewBox="0 0 40 30"><g xmlns="">{PATH}</g></svg>'):  # fmt: skip
        assert_as_drawn(corrected(text), tmp_path)


def test_what_is_no_svg_is_still_refused() -> None:
    with pytest.raises(BadInputError, match="outermost element must be <svg>"):
        correct_svg(b"<html><svg/></html>", MAP)


def test_a_file_of_too_many_things_is_refused_before_the_library_reads_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """8 MB of empty groups took minutes, and a gigabyte."""
    monkeypatch.setattr(design_file_svg.etree, "parse", None)
    for content in (b"<g/>" * 2 * (MOST_IN_FILE + 1), gzip.compress(b"<g/>" * 2 * (MOST_IN_FILE + 1))):
        with pytest.raises(BadInputError, match=f"more than {MOST_IN_FILE} things"):
            correct_svg(content, cut_by(1.0).inverse)


@pytest.mark.parametrize(
    "page",
    [
        'width="40mm"',
        'height="40mm"',
        'width="100%" height="40mm"',
        'width="auto" height="40mm"',
        'width="" height="40mm"',
        'style="width:40mm;height:40mm"',
        'style="fill:none; width: 40mm" width="9mm"',
    ],
)
def test_a_page_with_one_side_or_with_sides_in_its_style_keeps_its_scale(page: str) -> None:
    """The other side follows from the view box; the page grew before and the side that was given did not."""
    root = ElementTree.fromstring(corrected(f'<svg {SVG} {page} viewBox="0 0 20 20">{PATH}</svg>'))
    _, _, wide, high = map(float, root.get("viewBox", "").split())
    for side, length in (("width", wide), ("height", high)):
        assert float(root.get(side, "").removesuffix("mm")) / length == pytest.approx(2.0)
    assert "width" not in root.get("style", "")


@pytest.mark.parametrize("given", ["4em", "calc(10mm + 1in)", "3vw", "12 apples"])
def test_a_page_in_a_unit_that_depends_on_something_else_is_refused(given: str) -> None:
    with pytest.raises(BadInputError, match="give it in mm"):
        corrected(f'<svg {SVG} width="{given}" height="40mm" viewBox="0 0 20 20">{PATH}</svg>')


SHEET = (
    '<svg xmlns="http://www.w3.org/2000/svg" id="page" class="a b" viewBox="0 0 600 400" width="60mm" height="40mm">'
)


@pytest.mark.parametrize(
    "rule",
    [
        "svg{width:60mm;height:40mm}",
        "svg , .c { HEIGHT: 3cm }".lower(),
        ":root{width:6cm}",
        "*{height:5in}",
        "svg#page.a{transform:rotate(1deg)}",
        "/* p{} */ @media all { .b{width:1mm} }",
    ],
)
def test_a_style_sheet_that_gives_the_pages_size_is_refused(rule: str) -> None:
    with pytest.raises(BadInputError, match="style sheet gives the page's size"):
        corrected(f'{SHEET}<style>{rule}</style><rect width="100" height="50"/></svg>')


@pytest.mark.parametrize(
    "rule", [".c{width:9mm}", "svg .a{width:9mm}", "*{stroke-width:0.1}", "#other{height:2mm}", "/* svg{width:1mm} */"]
)
def test_a_style_sheet_that_speaks_of_other_things_is_none_of_the_pages(rule: str) -> None:
    assert "viewBox" in corrected(f'{SHEET}<style>{rule}</style><rect width="100" height="50"/></svg>')

"""A design in SVG corrected by an affine map: everything drawn goes into one group with a transform.

Input: the file's text and the map (axes of the machine; SVG's Y points down, which is taken care of here). Output: the
corrected text. The page grows so that nothing is cut off; its scale stays. Source: SVG 2, chapter 8 (coordinate
systems, transformations, viewBox).
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from xml.etree import ElementTree

from core.errors import BadInputError
from core.geometry.affine import Affine, Point

SVG = "http://www.w3.org/2000/svg"
GROUP_ID = "corrected-for-machine"
_NOT_DRAWN = {"defs", "metadata", "style", "title", "desc", "namedview", "script"}
_LENGTH = re.compile(r"^\s*([0-9.eE+-]+)\s*([a-z%]*)\s*$")
_SAME_RATIO = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedDesign:
    """The corrected file's text, and how many things in it lean or become ellipses on the screen."""

    text: str
    texts: int
    circles: int
    left_out: int = 0


def correct_svg(source: str, correction: Affine) -> CorrectedDesign:
    """Correct a whole SVG file; raises BadInputError for what is no SVG or was corrected before."""
    try:
        return _corrected(_parsed(source), correction)
    except RecursionError as exc:
        raise BadInputError("groups within groups, too deep to be read: save it as plain SVG") from exc


def _corrected(root: ElementTree.Element, correction: Affine) -> CorrectedDesign:
    if any(element.get("id") == GROUP_ID for element in root.iter()):
        raise BadInputError("this design was corrected before: correct the original, never twice")
    matrix = correction.y_down
    page = _view_box(root)
    fixed = (page[0] + page[2] / 2.0, page[1] + page[3] / 2.0) if page else (0.0, 0.0)
    shift = matrix.shift_about(fixed)
    group = ElementTree.Element(
        f"{{{SVG}}}g",
        {"id": GROUP_ID, "transform": _matrix_text(matrix, shift)},
    )
    for element in list(root):
        if _name(element) not in _NOT_DRAWN:
            root.remove(element)
            group.append(element)
    root.append(group)
    if page:
        _grow_page(root, page, matrix, fixed)
    names = [_name(element) for element in group.iter()]
    text = ElementTree.tostring(root, encoding="unicode", xml_declaration=True)
    return CorrectedDesign(
        text=text,
        texts=names.count("text"),
        circles=names.count("circle") + names.count("ellipse"),
    )


def _parsed(source: str) -> ElementTree.Element:
    """The root element, comments and the file's own namespace prefixes kept."""
    try:
        for _, (prefix, address) in ElementTree.iterparse(io.StringIO(source), events=["start-ns"]):
            if not re.match(r"ns\d+$", prefix):
                ElementTree.register_namespace(prefix, address)
        builder = ElementTree.TreeBuilder(insert_comments=True)
        root = ElementTree.fromstring(source, parser=ElementTree.XMLParser(target=builder))
    except ElementTree.ParseError as exc:
        raise BadInputError(f"not an SVG file: {exc}") from exc
    if root.tag != f"{{{SVG}}}svg":
        raise BadInputError("not an SVG file: its outermost element must be <svg> of the SVG namespace")
    return root


def _name(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _view_box(root: ElementTree.Element) -> tuple[float, float, float, float] | None:
    """Left, top, width and height of the page in the drawing's own units; None where the file gives none."""
    given = root.get("viewBox")
    if given is not None:
        try:
            left, top, width, height = (float(number) for number in re.split(r"[\s,]+", given.strip()))
        except ValueError as exc:
            raise BadInputError(f"viewBox {given!r}: it must be four numbers") from exc
        return left, top, width, height
    sizes = [_LENGTH.match(root.get(side, "")) for side in ("width", "height")]
    if any(size is None or size[2] not in ("", "px") for size in sizes):
        return None
    width, height = (float(size[1]) for size in sizes if size)
    return 0.0, 0.0, width, height


def _grow_page(
    root: ElementTree.Element, page: tuple[float, float, float, float], matrix: Affine, fixed: Point
) -> None:
    """Make the page as large as its corrected corners, at the scale it had."""
    left, top, width, height = page
    sizes = [_LENGTH.match(root.get(side, "")) for side in ("width", "height")]
    absolute = all(size is not None and size[2] != "%" for size in sizes)
    if absolute and root.get("viewBox") is not None:
        scales = [float(size[1]) / units for size, units in zip(sizes, (width, height), strict=True) if size]
        if abs(scales[0] / scales[1] - 1.0) > _SAME_RATIO:
            raise BadInputError(
                f"page {root.get('width')} x {root.get('height')} does not fit its viewBox: its scale is not clear"
            )
    corners = [(left, top), (left + width, top), (left + width, top + height), (left, top + height)]
    xs, ys = zip(*(matrix.apply(corner, fixed) for corner in corners), strict=True)
    low = (min(left, *xs), min(top, *ys))
    grown = (max(left + width, *xs) - low[0], max(top + height, *ys) - low[1])
    root.set("viewBox", f"{low[0]:.9g} {low[1]:.9g} {grown[0]:.9g} {grown[1]:.9g}")
    if absolute:
        for side, size, factor in zip(("width", "height"), sizes, (grown[0] / width, grown[1] / height), strict=True):
            if size:
                root.set(side, f"{float(size[1]) * factor:.9g}{size[2]}")


def _matrix_text(matrix: Affine, shift: Point) -> str:
    numbers = (matrix.xx, matrix.yx, matrix.xy, matrix.yy, *shift)
    return f"matrix({' '.join(f'{number:.12g}' for number in numbers)})"

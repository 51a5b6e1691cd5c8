"""A design in SVG corrected by an affine map: each thing drawn at the top of the file gets the map before its own.

Input: the file's bytes (any encoding that XML names, plain or compressed) and the map (axes of the machine; SVG's Y
points down, which is taken care of here). Output: the corrected file. No level is added where it can be avoided, so
that style rules which name a child still find it. The page grows so that nothing is cut off; its scale stays. Source:
SVG 2, chapter 8 (coordinate systems, transformations, viewBox, preserveAspectRatio, units).
"""

import gzip
import io
import math
import re
import zlib

from lxml import etree

from core.errors import BadInputError
from core.geometry.affine import Affine, Point
from core.geometry.corrected_design import MOST_IN_FILE, CorrectedDesign, too_many_things
from core.geometry.design_page_svg import SVG, name_of, page_of
from core.said import Name, Number, said

MARK = "data-corrected-for-machine"
# Before the mark stood on the outermost element, a group carried it.
_FORMER_MARK = "corrected-for-machine"
MOST_BYTES = 64 * 1024**2
_DRAWN = {
    *("a", "circle", "ellipse", "foreignObject", "g", "image", "line", "path", "polygon", "polyline", "rect"),
    *("svg", "switch", "text", "use"),
}
_STRUCTURE = re.compile(r"[>+~]|:(?:nth|first|last|only|root|empty)")
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_TRANSFORM = re.compile(rf"\s*(?:(?:matrix|translate|scale|rotate|skewX|skewY)\s*\((?:\s*{_NUMBER}\s*,?)+\)[\s,]*)*")
# Somebody says of an element what is so anyway.
_NO_NAMESPACE = re.compile(rb'(<[^<>]*?)\sxmlns=""')
_REFERENCE = re.compile(r"""url\(\s*["']?#([^"')]+)["']?\s*\)""")


def correct_svg(content: bytes, correction: Affine) -> CorrectedDesign:
    """Correct a whole SVG file; raises BadInputError for what is no SVG or was corrected before."""
    compressed = content.startswith(b"\x1f\x8b")
    tree = _parsed(_opened(content) if compressed else content)
    root = tree.getroot()
    if root.get(MARK) is not None or any(element.get("id") == _FORMER_MARK for element in root.iter("{*}g")):
        raise BadInputError(said("this design was corrected before: correct the original, never twice"))
    page = page_of(root)
    matrix = page.in_drawing(correction.y_down)
    fixed = page.middle
    names = [name_of(element) for element in root.iter(etree.Element)]
    page.keep_percentages(root)
    _correct_children(root, matrix, fixed)
    page.grow(root, [matrix.apply(corner, fixed) for corner in page.corners])
    root.set(MARK, "yes")
    written = etree.tostring(tree, encoding=tree.docinfo.encoding or "UTF-8", xml_declaration=True)
    return CorrectedDesign(
        content=gzip.compress(written, mtime=0) if compressed else written,
        texts=names.count("text"),
        circles=names.count("circle") + names.count("ellipse"),
    )


def _opened(content: bytes) -> bytes:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(content)) as file:
            opened = file.read(MOST_BYTES + 1)
    except (OSError, EOFError, zlib.error) as exc:
        raise BadInputError(said("a compressed SVG file that is damaged: {why}", why=Name(str(exc)))) from exc
    if len(opened) > MOST_BYTES:
        raise BadInputError(
            said(
                "more than {most} once it is opened: save it as plain SVG",
                most=Number(MOST_BYTES // 1024**2, sign="MB"),
            )
        )
    return opened


def _parsed(content: bytes) -> etree._ElementTree:
    if content.count(b"<") > 2 * MOST_IN_FILE:  # an element may have an end as well
        raise too_many_things()
    parser = etree.XMLParser(resolve_entities="internal", no_network=True, remove_blank_text=False)
    try:
        tree = etree.parse(io.BytesIO(content), parser)
    except etree.XMLSyntaxError as exc:
        raise BadInputError(
            said("not an SVG file, or one with groups too deep to be read: {why}", why=Name(exc.msg))
        ) from exc
    if tree.getroot().tag == "svg":
        # The document type of SVG 1.0 gives the namespace by itself, so files of its time name none.
        named = etree.tostring(tree.getroot(), encoding="UTF-8", with_tail=False)
        named = _NO_NAMESPACE.sub(rb"\1", named)
        tree = etree.parse(io.BytesIO(named.replace(b"<svg", f'<svg xmlns="{SVG}"'.encode(), 1)), parser)
    if tree.getroot().tag != f"{{{SVG}}}svg":
        raise BadInputError(said("not an SVG file: its outermost element must be <svg> of the SVG namespace"))
    return tree


def _correct_children(root: etree._Element, matrix: Affine, fixed: Point) -> None:
    """Put the map before what each child of the outermost element has."""
    mapped = _matrix_text(matrix, matrix.shift_about(fixed))
    referenced = _referenced(root)
    styles = " ".join(text for style in root.iter(f"{{{SVG}}}style") for text in style.itertext())
    wraps = 0
    for child in list(root):
        if name_of(child) not in _DRAWN:
            continue
        if not _takes_transform(child, referenced, styles):
            group = etree.Element(f"{{{SVG}}}g", transform=mapped)
            group.tail, child.tail = child.tail, None
            root.replace(child, group)
            group.append(child)
            wraps += 1
        else:
            own = child.get("transform", "").strip()
            child.set("transform", f"{mapped} {own}".strip())
    if wraps and _STRUCTURE.search(re.sub(r"/\*.*?\*/|\{[^}]*\}", " ", styles, flags=re.DOTALL)):
        raise BadInputError(
            said(
                "its style rules depend on where things stand in the file, and some would have to be "
                "moved: save it as plain SVG, with styles on the things themselves"
            )
        )


def _takes_transform(child: etree._Element, referenced: set[str], styles: str) -> bool:
    """False for what has to be put into a group instead: drawn elsewhere in the file as well, moved by a style or an
    animation, or of a kind or with a transform that not every program applies."""
    style = child.get("style", "")
    return not (
        name_of(child) == "svg"
        or child.get("id") in referenced
        or "transform" in style
        or "transform" in styles
        or child.get("transform-origin") is not None
        or child.find(f"{{{SVG}}}animateTransform") is not None
        or _TRANSFORM.fullmatch(child.get("transform", "")) is None
    )


def _referenced(root: etree._Element) -> set[str]:
    """The ids that anything in the file points at."""
    found: set[str] = set()
    for element in root.iter(etree.Element):
        for name, value in element.attrib.items():
            if name.rpartition("}")[2] == "href" and value.startswith("#"):
                found.add(value[1:])
            elif "url(" in value:
                found.update(_REFERENCE.findall(value))
    return found


def _matrix_text(matrix: Affine, shift: Point) -> str:
    numbers = (matrix.xx, matrix.yx, matrix.xy, matrix.yy, *shift)
    if not all(math.isfinite(number) for number in numbers):
        raise BadInputError(said("its page is too large to be corrected"))
    return f"matrix({' '.join(f'{number:.12g}' for number in numbers)})"

"""The page of an SVG file: what its drawing's units are, how far it reaches, how it grows.

Input: the outermost element. Output: the page in the drawing's own units, and the map of the page's axes in those of
the drawing (another one only where the drawing is stretched or turned). Source: SVG 2, chapter 8 (viewBox,
preserveAspectRatio, percentages), CSS Values (96 px to the inch).
"""

import math
import re
from typing import TypeAlias

from lxml import etree
from msgspec import Struct

from core.errors import BadInputError
from core.geometry.affine import Affine, Point
from core.said import Name, said

SVG = "http://www.w3.org/2000/svg"
_LENGTH = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z]*|%)\s*")
PX_PER_UNIT = {
    "": 1.0,
    "px": 1.0,
    "mm": 96 / 25.4,
    "cm": 96 / 2.54,
    "q": 96 / 101.6,
    "in": 96.0,
    "pt": 96 / 72,
    "pc": 16.0,
}
_ALONG_X = {"x", "cx", "x1", "x2", "fx", "width", "rx", "dx"}
_ALONG_Y = {"y", "cy", "y1", "y2", "fy", "height", "ry", "dy"}
_BOTH = {"r", "stroke-width", "stroke-dashoffset"}
# Within these a percentage is of something else than the page.
_OWN_PAGE = {"svg", "symbol", "marker", "pattern", "linearGradient", "radialGradient", "mask", "filter", "clipPath"}
_SAME_RATIO = 1e-9
_STYLED_SIZE = re.compile(r"(?<![\w-])(width|height)\s*:\s*([^;]*);?")
_STYLED_PAGE = re.compile(r"(?<![\w-])(?:width|height|transform)\s*:")
_RULE = re.compile(r"([^{};]+)\{([^{}]*)\}")
_ROOT_SELECTOR = re.compile(r"(?:svg|\*)?(?:[.#:\[][^\s>+~]*)?")
# Left, top, width, height; a number and its unit.
Box: TypeAlias = tuple[float, float, float, float]
Size: TypeAlias = tuple[float, str]


def name_of(element: etree._Element) -> str:
    """The element's name where it is SVG's, empty for comments and other vocabularies."""
    tag = element.tag
    return tag[len(SVG) + 2 :] if isinstance(tag, str) and tag.startswith(f"{{{SVG}}}") else ""


class Page(Struct, frozen=True, kw_only=True):
    """`box` is left, top, width and height in the drawing's units, None where the file gives none; `sizes` the numbers
    and units of width and height, None where both are missing or in percent; `stretch` how the drawing lies on it."""

    box: Box | None
    sizes: tuple[Size, Size] | None
    stretch: Affine

    @property
    def middle(self) -> Point:
        """The point that stays."""
        return (self.box[0] + self.box[2] / 2.0, self.box[1] + self.box[3] / 2.0) if self.box else (0.0, 0.0)

    @property
    def corners(self) -> tuple[Point, ...]:
        """The page's four corners; none where there is no page."""
        if self.box is None:
            return ()
        left, top, width, height = self.box
        return (left, top), (left + width, top), (left + width, top + height), (left, top + height)

    def in_drawing(self, matrix: Affine) -> Affine:
        """A map of the page in the drawing's units: where the drawing is stretched, undone, mapped, stretched again."""
        return _product(self.stretch.inverse, _product(matrix, self.stretch))

    def grow(self, root: etree._Element, mapped: list[Point]) -> None:
        """Make the page as large as its corrected corners, at the scale it had."""
        if self.box is None:
            return
        left, top, width, height = self.box
        xs, ys = zip(*mapped, strict=True)
        low = (min(left, *xs), min(top, *ys))
        grown = (max(left + width, *xs) - low[0], max(top + height, *ys) - low[1])
        root.set("viewBox", f"{low[0]:.9g} {low[1]:.9g} {grown[0]:.9g} {grown[1]:.9g}")
        if self.sizes is not None:
            factors = (grown[0] / width, grown[1] / height)
            for side, (size, unit), factor in zip(("width", "height"), self.sizes, factors, strict=True):
                root.set(side, f"{size * factor:.9g}{unit}")

    def keep_percentages(self, root: etree._Element) -> None:
        """Write lengths in percent of the page as numbers: the page grows, they must not."""
        if self.box is None:
            return
        width, height = self.box[2:]
        symbols = {f"#{one.get('id')}" for kind in ("symbol", "svg") for one in root.iter(f"{{{SVG}}}{kind}")}
        wholes = dict.fromkeys(_ALONG_X, width) | dict.fromkeys(_ALONG_Y, height)
        wholes |= dict.fromkeys(_BOTH, math.hypot(width, height) / math.sqrt(2.0))
        self._keep(root, wholes, symbols, top=True)

    def _keep(self, element: etree._Element, wholes: dict[str, float], symbols: set[str], *, top: bool = False) -> None:
        name = name_of(element)
        if not top:
            self._keep_one(element, name, wholes, symbols)
        if name in _OWN_PAGE and not top:
            return
        for child in element:
            if isinstance(child.tag, str):
                self._keep(child, wholes, symbols)

    def _keep_one(self, element: etree._Element, name: str, wholes: dict[str, float], symbols: set[str]) -> None:
        if "%" in element.get("style", "") and re.search(
            r"stroke-(?:width|dash\w*)\s*:[^;]*%", element.get("style", "")
        ):
            raise BadInputError(said("a style gives a line's width in percent of the page: give it in mm"))
        href = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href")
        if name == "svg" or (name == "use" and href in symbols):
            for side in ("width", "height"):
                if element.get(side, "auto") == "auto":
                    element.set(side, "100%")
        if name in _OWN_PAGE - {"svg"}:
            return
        for attribute, whole in wholes.items():
            value = element.get(attribute)
            if value is not None and (match := _LENGTH.fullmatch(value)) and match[2] == "%":
                element.set(attribute, f"{float(match[1]) * whole / 100.0:.9g}")


def page_of(root: etree._Element) -> Page:
    """Work the page out; raises BadInputError where it has no size, or one that a style sheet gives."""
    _refuse_styled_page(root)
    _take_from_style(root)
    box = _view_box(root)
    sizes = _sizes(root, box)
    turn = _turn(root)
    if box is None:
        if sizes is None:
            return Page(box=None, sizes=None, stretch=turn)
        px = [size * PX_PER_UNIT[unit.lower()] for size, unit in sizes]
        return Page(box=(0.0, 0.0, px[0], px[1]), sizes=sizes, stretch=turn)
    if sizes is None:
        return Page(box=box, sizes=None, stretch=turn)
    scales = [size * PX_PER_UNIT[unit.lower()] / length for (size, unit), length in zip(sizes, box[2:], strict=True)]
    if abs(scales[0] / scales[1] - 1.0) <= _SAME_RATIO:
        return Page(box=box, sizes=sizes, stretch=turn)
    align, _, how = root.get("preserveAspectRatio", "xMidYMid meet").strip().partition(" ")
    if align == "none":
        stretched = Affine(xx=scales[0], xy=0.0, yx=0.0, yy=scales[1])
        return Page(box=box, sizes=sizes, stretch=_product(turn, stretched))
    scale = max(scales) if how.strip() == "slice" else min(scales)
    shown = [length * one / scale for length, one in zip(box[2:], scales, strict=True)]
    places = [{"Min": 0.0, "Mid": 0.5, "Max": 1.0}.get(word, 0.5) for word in (align[1:4], align[5:8])]
    low = [
        start - (wide - length) * place
        for start, length, wide, place in zip(box[:2], box[2:], shown, places, strict=True)
    ]
    return Page(box=(low[0], low[1], shown[0], shown[1]), sizes=sizes, stretch=turn)


def _view_box(root: etree._Element) -> Box | None:
    given = root.get("viewBox")
    if given is None:
        return None
    try:
        left, top, width, height = (float(number) for number in re.split(r"[\s,]+", given.strip()))
    except ValueError as exc:
        raise BadInputError(said("viewBox '{given}': it must be four numbers", given=Name(given))) from exc
    if not (all(map(math.isfinite, (left, top, width, height))) and width > 0.0 and height > 0.0):
        raise BadInputError(said("viewBox '{given}': its width and height must be more than zero", given=Name(given)))
    return left, top, width, height


def _refuse_styled_page(root: etree._Element) -> None:
    """A rule for the outermost element (a selector of one part) goes before its attributes, and would not grow."""
    sheets = " ".join(text for style in root.iter(f"{{{SVG}}}style") for text in style.itertext())
    for selectors, declared in _RULE.findall(re.sub(r"/\*.*?\*/", " ", sheets, flags=re.DOTALL)):
        if _STYLED_PAGE.search(declared) and any(_may_be_root(one.strip(), root) for one in selectors.split(",")):
            raise BadInputError(
                said("a style sheet gives the page's size or turns it: give width and height in the drawing, in mm")
            )


def _may_be_root(selector: str, root: etree._Element) -> bool:
    """It names the outermost element: by its kind, its id, one of its classes, or in a way not looked into."""
    if not _ROOT_SELECTOR.fullmatch(selector):
        return False
    parts = re.findall(r"[.#:\[][^.#:\[]*", selector)
    ours = {f"#{root.get('id')}"} | {f".{name}" for name in root.get("class", "").split()}
    return all(part in ours or part[0] in ":[" for part in parts)


def _take_from_style(root: etree._Element) -> None:
    """Sizes in the outermost element's style go before its attributes: write them there, where they grow."""
    style = root.get("style", "")
    for side, value in _STYLED_SIZE.findall(style):
        root.set(side, value.strip())
    if style:
        root.set("style", _STYLED_SIZE.sub("", style))


def _sizes(root: etree._Element, box: Box | None) -> tuple[Size, Size] | None:
    """Width and height with their units. One that is missing or in percent follows from the other and the box, as the
    drawing's own ratio is kept; None where neither is a length. Raises BadInputError for other units."""
    wide, high = _size(root, "width"), _size(root, "height")
    if wide is None and high is not None and box is not None:
        wide = (high[0] * box[2] / box[3], high[1])
    if high is None and wide is not None and box is not None:
        high = (wide[0] * box[3] / box[2], wide[1])
    return None if wide is None or high is None else (wide, high)


def _size(root: etree._Element, side: str) -> Size | None:
    given = root.get(side, "").strip() or "auto"
    match = _LENGTH.fullmatch(given)
    if given == "auto" or (match is not None and match[2] == "%"):
        return None
    if match is None or match[2].lower() not in PX_PER_UNIT:
        raise BadInputError(
            said(
                '{side}="{given}": its size depends on something else: give it in mm',
                side=Name(side),
                given=Name(given),
            )
        )
    size = float(match[1])
    if not (math.isfinite(size) and size > 0.0):
        raise BadInputError(said('{side}="{given}": the page must have a size', side=Name(side), given=Name(given)))
    return size, match[2]


def _turn(root: etree._Element) -> Affine:
    """The linear part of a transform on the outermost element."""
    turn = Affine(xx=1.0, xy=0.0, yx=0.0, yy=1.0)
    if "transform" in root.get("style", ""):
        raise BadInputError(said("a style turns the whole drawing: put everything into one group instead"))
    for name, inside in re.findall(r"(\w+)\s*\(([^)]*)\)", root.get("transform", "")):
        numbers = [float(number) for number in re.split(r"[\s,]+", inside.strip()) if number]
        turn = _product(turn, _linear(name, numbers))
    return turn


def _linear(name: str, numbers: list[float]) -> Affine:
    match name, numbers:
        case "matrix", [a, b, c, d, _, _]:
            return Affine(xx=a, xy=c, yx=b, yy=d)
        case "scale", [x, *rest]:
            return Affine(xx=x, xy=0.0, yx=0.0, yy=rest[0] if rest else x)
        case "rotate", [degrees, *_]:
            turn = math.radians(degrees)
            return Affine(xx=math.cos(turn), xy=-math.sin(turn), yx=math.sin(turn), yy=math.cos(turn))
        case "skewX", [degrees]:
            return Affine(xx=1.0, xy=math.tan(math.radians(degrees)), yx=0.0, yy=1.0)
        case "skewY", [degrees]:
            return Affine(xx=1.0, xy=0.0, yx=math.tan(math.radians(degrees)), yy=1.0)
        case "translate", _:
            return Affine(xx=1.0, xy=0.0, yx=0.0, yy=1.0)
    raise BadInputError(
        said("transform {name} of the whole drawing is not understood: put everything into one group", name=Name(name))
    )


def _product(first: Affine, then: Affine) -> Affine:
    """`first` times `then`: what comes of a point mapped by `then` and after that by `first`."""
    return Affine(
        xx=first.xx * then.xx + first.xy * then.yx,
        xy=first.xx * then.xy + first.xy * then.yy,
        yx=first.yx * then.xx + first.yy * then.yx,
        yy=first.yx * then.xy + first.yy * then.yy,
    )

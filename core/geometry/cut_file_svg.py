"""A drawing as SVG: true millimetres, one unit of the file is one millimetre, so that it opens at scale.

Output: text. Source: W3C SVG 1.1, sections 7.7 (viewBox) and 8.3 (path data); the file's Y axis points down.
"""

from __future__ import annotations

from core.geometry.affine import Point
from core.geometry.cut_file import Drawing, Layer, Line

_MARGIN_MM = 5.0
# Lines as thin as this are vectors to every cutting program.
_STROKE_MM = 0.1
_COLOUR = {Layer.MARK: "#0000ff", Layer.CUT: "#000000"}


def svg(drawing: Drawing, title: str) -> str:
    """The file's text; groups `mark` and `cut`, each line a path in the order of cutting."""
    width_mm = drawing.high[0] - drawing.low[0] + 2.0 * _MARGIN_MM
    height_mm = drawing.high[1] - drawing.low[1] + 2.0 * _MARGIN_MM
    groups = "\n".join(_group(drawing, layer) for layer in Layer)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_number(width_mm)}mm" '
        f'height="{_number(height_mm)}mm" viewBox="0 0 {_number(width_mm)} {_number(height_mm)}">\n'
        f"<title>{_escaped(title)}</title>\n"
        "<desc>Seen from above; the operator stands below. Layer mark: engrave. Layer cut: through. In order.</desc>\n"
        f"{groups}\n"
        "</svg>\n"
    )


def _group(drawing: Drawing, layer: Layer) -> str:
    paths = "\n".join(_path(drawing, line) for line in drawing.lines if line.layer is layer)
    return f'<g id="{layer}" fill="none" stroke="{_COLOUR[layer]}" stroke-width="{_number(_STROKE_MM)}">\n{paths}\n</g>'


def _path(drawing: Drawing, line: Line) -> str:
    def placed(point: Point) -> str:
        x_mm = point[0] - drawing.low[0] + _MARGIN_MM
        y_mm = drawing.high[1] - point[1] + _MARGIN_MM
        return f"{_number(x_mm)},{_number(y_mm)}"

    closed = line.points[0] == line.points[-1]
    points = line.points[:-1] if closed else line.points
    return f'<path d="M {" L ".join(placed(point) for point in points)}{" Z" if closed else ""}"/>'


def _number(value: float) -> str:
    """At most a tenth of a micrometre, no exponent, never a decimal comma."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")

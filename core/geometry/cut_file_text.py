"""A drawing as SVG or DXF in true millimetres, so that it opens at scale, and its title.

Output: text. SVG: one unit of the file is one millimetre; W3C SVG 1.1, sections 7.7 (viewBox) and 8.3 (path data); the
file's Y axis points down. DXF: millimetres said in the header, layers MARK and CUT, origin at the corner NL of the
first coupon; written by ezdxf (format R2010, lightweight polylines, which cutting programs read).
"""

import io
from pathlib import Path

from core.errors import BadInputError
from core.geometry.affine import Point
from core.geometry.cut_file import CutPlan, Drawing, Layer, Line
from core.geometry.line_style import DEFAULT_STYLE, LineStyle
from core.geometry.seats import Seats, are_keyed
from core.said import Length, Name, Part, Said, Series, Size, said

_MARGIN_MM = 5.0


def svg(drawing: Drawing, title: str, style: LineStyle = DEFAULT_STYLE) -> str:
    """The file's text; groups `mark` and `cut`, each line a path in the order of cutting."""
    import html  # a dictionary of all names of characters, which no start needs

    width_mm = drawing.high[0] - drawing.low[0] + 2.0 * _MARGIN_MM
    height_mm = drawing.high[1] - drawing.low[1] + 2.0 * _MARGIN_MM
    groups = "\n".join(_group(drawing, layer, style) for layer in Layer)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_number(width_mm)}mm" '
        f'height="{_number(height_mm)}mm" viewBox="0 0 {_number(width_mm)} {_number(height_mm)}">\n'
        f"<title>{html.escape(title, quote=False)}</title>\n"
        "<desc>Seen from above; the operator stands below. Layer mark: engrave. Layer cut: through. In order.</desc>\n"
        f"{groups}\n"
        "</svg>\n"
    )


def _group(drawing: Drawing, layer: Layer, style: LineStyle) -> str:
    paths = "\n".join(_path(drawing, line) for line in drawing.lines if line.layer is layer)
    stroke = f'stroke="{style.colour(layer)}" stroke-width="{_number(style.hairline_mm)}"'
    return f'<g id="{layer}" fill="none" {stroke}>\n{paths}\n</g>'


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


def dxf(drawing: Drawing, style: LineStyle = DEFAULT_STYLE) -> str:
    """The file's text; every line a polyline in the order of cutting."""
    # Loading the library takes a third of a second, so only who wants DXF waits for it.
    from ezdxf import units
    from ezdxf.filemanagement import new

    document = new("R2010", units=units.MM)
    document.header["$MEASUREMENT"] = 1
    for layer in Layer:
        document.layers.add(layer.upper(), true_color=int(style.colour(layer)[1:], 16))
    space = document.modelspace()
    for line in drawing.lines:
        closed = line.points[0] == line.points[-1]
        points = line.points[:-1] if closed else line.points
        space.add_lwpolyline(points, close=closed, dxfattribs={"layer": line.layer.upper()})
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def coupon_text(out: Path, drawing: Drawing, title: str, style: LineStyle = DEFAULT_STYLE) -> str:
    """The cut file's text, SVG or DXF by the ending of `out`; raises BadInputError for another one."""
    match out.suffix.lower():
        case ".svg":
            return svg(drawing, title, style)
        case ".dxf":
            return dxf(drawing, style)
    raise BadInputError(said("{file}: the name must end in .svg or .dxf", file=Name(str(out))))


def coupon_title(plan: CutPlan, *, corrected: bool) -> Series:
    """What is drawn, in one line."""
    coupon = plan.coupon
    words: list[Part] = [said("coupon {size}", size=Size(coupon.width_mm, coupon.height_mm))]
    if coupon.window_width_mm is not None and coupon.window_height_mm is not None:
        words.append(said("window {size}", size=Size(coupon.window_width_mm, coupon.window_height_mm)))
    if coupon.seats is not None:
        words.append(_seats_words(coupon.width_mm, coupon.height_mm, coupon.seats))
    if plan.kerf_mm:
        words.append(said("kerf {kerf} made up for", kerf=Length(plan.kerf_mm, None)))
    if plan.tab_mm:
        words.append(said("outline in open pieces between the tabs"))
    if plan.columns * plan.rows > 1:
        words.append(said("{columns} x {rows} on the bed", columns=plan.columns, rows=plan.rows))
    if corrected:
        words.append(said("corrected for the machine's skew"))
    return Series(tuple(words), joint=", ")


def _seats_words(width_mm: float, height_mm: float, seats: Seats) -> Said:
    one, other = Length(seats.nl_fr_mm, None, unit=False), Length(seats.nr_fl_mm, None)
    if seats.nl_fr_mm == seats.nr_fl_mm:
        return said("seats {width}", width=other)
    if are_keyed(width_mm, height_mm, seats):
        return said("keyed seats {one} and {other}", one=one, other=other)
    return said(
        "seats {one} and {other}, too alike to prove which diagonal is which",
        one=one,
        other=other,
    )

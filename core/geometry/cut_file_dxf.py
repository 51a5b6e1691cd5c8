"""A drawing as DXF: millimetres said in the header, layers MARK and CUT, origin at the corner NL of the first coupon.

Output: text, written by ezdxf (format R2010, lightweight polylines, which cutting programs read).
"""

import io

from ezdxf import units
from ezdxf.filemanagement import new

from core.geometry.cut_file import Drawing, Layer
from core.geometry.line_style import DEFAULT_STYLE, LineStyle


def dxf(drawing: Drawing, style: LineStyle = DEFAULT_STYLE) -> str:
    """The file's text; every line a polyline in the order of cutting."""
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

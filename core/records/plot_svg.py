"""The picture of the true shape as SVG, for documents and web pages.

Input: a ShapePicture. Output: text; its unit is one millimetre of the coupon, its Y axis points down.
"""

from core.records.shape_picture import Label, Point, ShapePicture, Stroke, StrokeStyle
from core.said import worded

# Widths and sizes as shares of the picture's height.
_LOOK = {
    StrokeStyle.BAND: 'stroke="none"',
    StrokeStyle.UNSURE: 'stroke="none"',
    StrokeStyle.NOMINAL: 'stroke="#8a939b" stroke-width="{thin}" stroke-dasharray="{dash} {dash}"',
    StrokeStyle.DIAGONAL: 'stroke="#c3c9ce" stroke-width="{thin}"',
    StrokeStyle.TRUE: 'stroke="#17364f" stroke-width="{thick}" stroke-linejoin="round"',
    StrokeStyle.FAILING: 'stroke="#a3122b" stroke-width="{thick}" stroke-linejoin="round"',
    StrokeStyle.MARK: 'stroke="#17364f" stroke-width="{thick}" stroke-linecap="square"',
}


_FILL = {StrokeStyle.BAND: "#d5e8e3", StrokeStyle.UNSURE: "#b9c2ca"}


def shape_svg(picture: ShapePicture, *, simulated: bool) -> str:
    """The file's text; what the band stands for and, where due, SIMULATED are written into it."""
    width, height = picture.high[0] - picture.low[0], picture.high[1] - picture.low[1]
    size = height / 100.0
    strokes = "\n".join(_stroke(picture, stroke, size) for stroke in picture.strokes)
    labels = "\n".join(_label(picture, label, size) for label in picture.labels)
    caption = f"SIMULATED · {picture.caption}" if simulated else str(picture.caption)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.4f} {height:.4f}">\n'
        f'<rect width="100%" height="100%" fill="#ffffff"/>\n{strokes}\n{labels}\n'
        f'<text x="{width / 2.0:.4f}" y="{height - 1.5 * size:.4f}" font-family="sans-serif" '
        f'font-size="{3.5 * size:.4f}" text-anchor="middle" fill="#5b6670">{caption}</text>\n</svg>\n'
    )


def _stroke(picture: ShapePicture, stroke: Stroke, size: float) -> str:
    look = _LOOK[stroke.style].format(thin=f"{0.35 * size:.4f}", thick=f"{0.9 * size:.4f}", dash=f"{1.6 * size:.4f}")
    fill = _FILL.get(stroke.style, "none")
    points = " ".join("{:.4f},{:.4f}".format(*_placed(picture, point)) for point in stroke.points)
    return f'<polyline points="{points}" fill="{fill}" {look}/>'


def _label(picture: ShapePicture, label: Label, size: float) -> str:
    x, y = _placed(picture, label.point)
    weight = "bold" if label.strong else "normal"
    return (
        f'<text x="{x:.4f}" y="{y + 1.6 * size:.4f}" font-family="sans-serif" font-size="{5.0 * size:.4f}" '
        f'font-weight="{weight}" text-anchor="middle" fill="#17364f">{worded(label.text)}</text>'
    )


def _placed(picture: ShapePicture, point: Point) -> Point:
    return point[0] - picture.low[0], picture.high[1] - point[1]

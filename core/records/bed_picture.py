"""The bed map as strokes and labels: every coupon of a grid in its place, leaning as its skew does, exaggerated.

Input: a GridMap. Output: a ShapePicture in millimetres, operator below, for every page that draws those.
"""

import math

from core.records.grid import GridMap
from core.records.shape_picture import Label, Point, ShapePicture, Stroke, StrokeStyle, round_factor
from core.said import NOTHING, Angle, Name, paragraph

_GAP_SHARE = 0.35  # of a coupon's side, between neighbours
_LEAN_SHARE = 0.25  # the largest lean drawn, as a share of the coupon's height


def bed_picture(grid: GridMap) -> ShapePicture:
    """Nominal outlines dashed, true ones leaning; the skew in degrees is written into each."""
    width_mm, height_mm = grid.coupon.width_mm, grid.coupon.height_mm
    leans = [math.tan(math.radians(place.skew_deg.value)) for place in grid.places]
    exaggeration = _exaggeration(max((abs(lean) for lean in leans), default=0.0))
    strokes, labels = [], []
    for number, (place, lean) in enumerate(zip(grid.places, leans, strict=True)):
        x, y = place.x_mm * (1.0 + _GAP_SHARE), place.y_mm * (1.0 + _GAP_SHARE)
        strokes.append(Stroke(style=StrokeStyle.NOMINAL, points=_outline(x, y, width_mm, height_mm, 0.0)))
        shift_mm = exaggeration * lean * height_mm
        strokes.append(Stroke(style=StrokeStyle.TRUE, points=_outline(x, y, width_mm, height_mm, shift_mm)))
        outstanding = number in grid.bed.outstanding
        labels.append(Label(point=(x, y + 0.18 * height_mm), text=Name(place.name), strong=True))
        skew = Angle(place.skew_deg.value, signed=True)
        labels.append(
            Label(point=(x, y - 0.18 * height_mm), text=paragraph(skew, Name("!") if outstanding else NOTHING))
        )
    xs, ys = zip(*(point for stroke in strokes for point in stroke.points), strict=True)
    margin_mm = 0.3 * height_mm
    return ShapePicture(
        strokes=tuple(strokes),
        labels=tuple(labels),
        low=(min(xs) - margin_mm, min(ys) - margin_mm),
        high=(max(xs) + margin_mm, max(ys) + margin_mm),
        exaggeration=exaggeration,
    )


def _outline(x: float, y: float, width_mm: float, height_mm: float, shift_mm: float) -> tuple[Point, ...]:
    """NL, NR, FR, FL and NL again around a middle, the far edge shifted to the right of the near one."""
    half = (width_mm / 2.0, height_mm / 2.0)
    lean = shift_mm / 2.0
    near_left = (x - half[0] - lean, y - half[1])
    return (
        near_left,
        (x + half[0] - lean, y - half[1]),
        (x + half[0] + lean, y + half[1]),
        (x - half[0] + lean, y + half[1]),
        near_left,
    )


def _exaggeration(largest_lean: float) -> float:
    """A round factor that draws the largest lean at a quarter of the height, never less than true."""
    return 1.0 if largest_lean == 0.0 else round_factor(_LEAN_SHARE / largest_lean)

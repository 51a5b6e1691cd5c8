"""The bed map as strokes and labels: every coupon of a grid in its place, leaning as its skew does, counted in limits.

Input: a GridMap. Output: a ShapePicture in millimetres, operator below, for every page that draws those.
"""

from core.machine import Place
from core.records.grid import GridMap
from core.records.outline import Outline, place_outline
from core.records.shape_picture import LIMIT_SHARE, Label, ShapePicture, Stroke, StrokeStyle, areas, ring
from core.said import NOTHING, Angle, Name, Said, paragraph, said

_GAP_SHARE = 0.35  # of a coupon's side, between neighbours
# Coupons are small here: a limit is twice as long, of their shorter side, as on the drawing of one alone.
_LIMIT_SHARE = 2.0 * LIMIT_SHARE


def bed_picture(grid: GridMap) -> ShapePicture:
    """Nominal outlines dashed with the band of the limit, true ones leaning; the skew in degrees is written into
    each. Without a limit nothing leans: no scale says how far."""
    width_mm, height_mm = grid.coupon.width_mm, grid.coupon.height_mm
    limit_mm = _LIMIT_SHARE * grid.coupon.shorter_side_mm
    strokes: list[Stroke] = []
    labels: list[Label] = []
    for number, place in enumerate(grid.places):
        x, y = place.x_mm * (1.0 + _GAP_SHARE), place.y_mm * (1.0 + _GAP_SHARE)
        box = (x - width_mm / 2.0, y - height_mm / 2.0, width_mm, height_mm)
        outline = _outline(place, grid.limit_deg)
        if grid.limit_deg:
            strokes += areas(outline, box, limit_mm)
        strokes.append(Stroke(style=StrokeStyle.NOMINAL, points=ring(place_outline(Outline(), box, limit_mm))))
        style = StrokeStyle.FAILING if abs(outline.lean) > 1.0 else StrokeStyle.TRUE
        strokes.append(Stroke(style=style, points=ring(place_outline(outline, box, limit_mm))))
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
        caption=_caption(grid.limit_deg),
    )


def _outline(place: Place, limit_deg: float | None) -> Outline:
    if not limit_deg:
        return Outline()
    return Outline(lean=place.skew_deg.value / limit_deg, u=place.skew_deg.U95 / limit_deg)


def _caption(limit_deg: float | None) -> Said:
    if not limit_deg:
        return said("Without a limit no lean is drawn")
    return said("The band is ± {limit}", limit=Angle(limit_deg))

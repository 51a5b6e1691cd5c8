"""The strokes of the coupon's drawing: called with a canvas open, they add instructions and keep nothing.

Input: Sheet (where things lie), snapshot or view (what is known), palette. Output: canvas instructions.
"""

from __future__ import annotations

import math

from kivy.graphics import Color, Line, PopMatrix, PushMatrix, Rectangle, Rotate

from core.geometry.features import CORNERS, DIAGONALS, EDGES, WINDOW, Feature, FeatureKind
from core.metrology.adjustment import Adjustment
from core.metrology.live import square_value
from core.metrology.verdict import Verdict
from ui.pages.bench import readings_of
from ui.pages.callouts import Callout, zone_limit
from ui.pages.live_cursor import LiveCursor
from ui.pages.theme import Colour, Palette
from ui.state.snapshot import Snapshot
from ui.touch.widgets.polygons import fill_polygon
from ui.touch.widgets.sheet_geometry import ENDS, Point, Sheet, corner_deviations_mm, corner_ellipse
from ui.touch.widgets.window_geometry import WindowPlace

# A best fit less certain than this is not drawn: the shape grows as readings arrive.
_DRAWN_UP_TO_PX = 46.0


def draw_coupon(sheet: Sheet, snapshot: Snapshot, palette: Palette, cursors: tuple[Feature | None, ...]) -> None:
    """Everything that does not move with the live indication."""
    Color(*palette.panel)
    Rectangle(pos=(sheet.left, sheet.bottom), size=(sheet.width, sheet.height))
    if sheet.window is not None:
        _draw_window(sheet.window, palette)
    features = snapshot.coupon.features if snapshot.coupon is not None else ()
    for feature in features:
        _draw_zone(sheet, snapshot, feature, palette)
    _draw_lines(sheet, palette)
    _draw_mark(sheet, palette.ink if snapshot.mark_confirmed else palette.rule)
    if snapshot.evaluation is not None and snapshot.evaluation.verdict is not Verdict.INCONSISTENT:
        draw_fit(sheet, snapshot.evaluation.adjustment, palette)
    for feature in features:
        if feature in cursors:
            _draw_cursor(sheet, feature, palette)
        _draw_ticks(sheet, snapshot, feature, palette)


def _draw_window(window: WindowPlace, palette: Palette) -> None:
    """The opening, through which the bench is seen, and the lines its two sizes are written on."""
    left, bottom, width, height = window.opening
    Color(*palette.paper)
    Rectangle(pos=(left, bottom), size=(width, height))
    Color(*palette.rule)
    for start, end in (*map(window.dimension_line, WINDOW), *window.extension_lines()):
        Line(points=(*start, *end), width=1.0)
    Color(*palette.ink)
    Line(rectangle=(left, bottom, width, height), width=1.2 * window.scale)


def _draw_zone(sheet: Sheet, snapshot: Snapshot, feature: Feature, palette: Palette) -> None:
    limit = zone_limit(snapshot, feature)
    if limit is None:
        return
    at_corner = feature.kind is FeatureKind.CORNER
    points = sheet.corner_wedge(feature, limit) if at_corner else sheet.length_zone(feature, limit)
    Color(*palette.zone)
    fill_polygon(points)


def _draw_lines(sheet: Sheet, palette: Palette) -> None:
    """Outline, dimension lines with their extension lines, and diagonals as centre lines."""
    Color(*palette.rule)
    for diagonal in DIAGONALS:
        Line(points=(*sheet.dimension_line(diagonal)[0], *sheet.dimension_line(diagonal)[1]), width=1.0)
    for edge in EDGES:
        start, end = sheet.dimension_line(edge)
        Line(points=(*start, *end), width=1.0)
        for corner, foot in zip(ENDS[edge], (start, end), strict=True):
            x, y = sheet.corner(corner)
            over = 6.0 * sheet.scale / max(math.dist((x, y), foot), 1.0)
            Line(points=(x, y, foot[0] + over * (foot[0] - x), foot[1] + over * (foot[1] - y)), width=1.0)
    Color(*palette.ink)
    Line(rectangle=(sheet.left, sheet.bottom, sheet.width, sheet.height), width=1.2 * sheet.scale)


def _draw_mark(sheet: Sheet, ink: Colour) -> None:
    """The orientation mark beside NL: an L, its long leg along X."""
    x, y = sheet.corner(Feature.NL)
    x, y = x + 42.0 * sheet.scale, y + 8.0 * sheet.scale
    long_leg, short_leg = 24.0 * sheet.scale, 12.0 * sheet.scale
    Color(*ink)
    Line(
        points=(x, y + short_leg, x, y, x + long_leg, y),
        width=2.2 * sheet.scale,
        cap="square",
        joint="miter",
    )


def draw_fit(sheet: Sheet, fit: Adjustment, palette: Palette) -> None:
    """The best fit with the 95 % region of each corner, once it is known well enough to be drawn."""
    ellipses = [corner_ellipse(sheet, fit, corner) for corner in CORNERS]
    if max(max(ellipse.half_axes) for ellipse in ellipses) > _DRAWN_UP_TO_PX * sheet.scale:
        return
    deviations = corner_deviations_mm(fit)
    Color(*palette.fitted)
    points = [part for corner in CORNERS for part in sheet.moved(corner, deviations[corner])]
    Line(points=points, close=True, width=2.2 * sheet.scale, joint="miter")
    for ellipse in ellipses:
        (x, y), (first, second) = ellipse.centre, ellipse.half_axes
        PushMatrix()
        Rotate(angle=ellipse.angle_deg, origin=(x, y))
        Line(ellipse=(x - first, y - second, 2 * first, 2 * second), width=1.0)
        PopMatrix()


def _draw_cursor(sheet: Sheet, feature: Feature, palette: Palette) -> None:
    """The feature that is up: a thick stroke along it."""
    Color(*palette.accent)
    width = 2.6 * sheet.scale
    if feature.kind is FeatureKind.CORNER:
        x, y = sheet.corner(feature)
        radius = 20.0 * sheet.scale
        Line(circle=(x, y, radius), width=width)
        return
    window = feature.kind is FeatureKind.WINDOW
    start, end = sheet.dimension_line(feature) if window else (sheet.corner(corner) for corner in ENDS[feature])
    Line(points=(*start, *end), width=width, cap="none")


def _draw_ticks(sheet: Sheet, snapshot: Snapshot, feature: Feature, palette: Palette) -> None:
    """Every reading that counts, as a tick in its zone."""
    if snapshot.coupon is None:
        return
    fit = snapshot.evaluation.adjustment if snapshot.evaluation else None
    Color(*palette.ink)
    for reading in readings_of(snapshot, feature):
        deviation = reading.value - square_value(snapshot.coupon, feature, fit)
        if feature.kind is FeatureKind.CORNER:
            apex, ray = sheet.corner(feature), sheet.corner_ray(feature, deviation)
            inner = tuple(a + 0.72 * (b - a) for a, b in zip(apex, ray, strict=True))
            Line(points=(*inner, *ray), width=1.4 * sheet.scale)
            continue
        start, end = sheet.dimension_line(feature)
        x, y = sheet.length_tip(feature, deviation)
        length = math.dist(start, end)
        across = ((start[1] - end[1]) / length * 9 * sheet.scale, (end[0] - start[0]) / length * 9 * sheet.scale)
        Line(points=(x - across[0], y - across[1], x + across[0], y + across[1]), width=1.4 * sheet.scale)


def clear_ground(centre: Point, size: Point, callout: Callout, palette: Palette) -> Colour:
    """Let no line run through a value, which stands there plain: a frame would mean a theoretically exact dimension
    (ISO 1101). Returns the colour to write in."""
    inside = callout.feature.kind is FeatureKind.DIAGONAL
    Color(*(palette.panel if inside else palette.paper))
    Rectangle(pos=(centre[0] - size[0] / 2, centre[1] - size[1] / 2), size=size)
    if callout.suspect:
        return palette.fitted
    if callout.at_cursor:
        return palette.accent
    return palette.ink if callout.count else palette.quiet


def draw_live(sheet: Sheet, live: LiveCursor, palette: Palette) -> None:
    """The live indication: an arrow that ends in the zone, or beside it; at a corner, the second arm."""
    feature, deviation = live.feature, live.deviation
    if feature is None or deviation is None:
        return
    if feature.kind is FeatureKind.CORNER:
        start, tip = sheet.corner(feature), sheet.corner_ray(feature, deviation)
    else:
        start, tip = sheet.dimension_line(feature)[0], sheet.length_tip(feature, deviation)
    length = math.dist(start, tip)
    # The shaft begins beyond the value, which stands on the same line.
    begin = 0.0 if feature.kind is FeatureKind.CORNER else 0.66
    if sheet.window is not None and feature.kind is FeatureKind.WINDOW:
        begin = sheet.window.shaft_from(feature)
    Color(*palette.accent)
    shaft = tuple(a + begin * (b - a) for a, b in zip(start, tip, strict=True))
    Line(points=(*shaft, *tip), width=1.6 * sheet.scale)
    along = ((tip[0] - start[0]) / length, (tip[1] - start[1]) / length)
    head = _arrow_head(tip, along, 20.0 * sheet.scale, 8.5 * sheet.scale)
    Color(*palette.lamp(live.shape).fill)
    fill_polygon(head)
    Color(*palette.ink)
    Line(points=[part for point in head for part in point], close=True, width=1.3 * sheet.scale)


def _arrow_head(tip: Point, along: Point, length: float, half: float) -> list[Point]:
    foot = (tip[0] - length * along[0], tip[1] - length * along[1])
    return [
        tip,
        (foot[0] - half * along[1], foot[1] + half * along[0]),
        (foot[0] + half * along[1], foot[1] - half * along[0]),
    ]

"""The true shape of a coupon, its deviations counted in limits, as strokes and labels that every page can draw.

Input: an evaluation. Output: a ShapePicture in millimetres of the coupon, X to the right, Y away from the operator
(upwards), origin in the middle.
"""

import math
from collections.abc import Iterator
from enum import StrEnum

from msgspec import Struct

from core.geometry import Coupon, Feature, corners_mm, orientation_mark
from core.metrology import Evaluation, Verdict
from core.numeric import FloatArray, np
from core.records.outline import MOST_LIMITS, Outline, Polygon, place_band, place_outline, place_u, whole_outline
from core.said import Length, Name, Part, Said, said

# A limit is drawn at this share of the shorter side, whatever it is; U, where it is wider than a line.
LIMIT_SHARE = 0.03
THIN_U_SHARE = 0.008
# Lean and length together, at the most that is drawn of each.
_SHOWN_SHARE = 4.0 * MOST_LIMITS * LIMIT_SHARE
_LABEL_SHARE = 0.075
# How far from its edge a figure stands, as shares of the shorter side: beside an edge along X, across one along Y.
_BESIDE_SHARE, _ACROSS_SHARE = 0.1, 0.24
# Figures of both diagonals stand behind the crossing, towards the far corners.
_ALONG_DIAGONAL = 0.72
_EDGES = {Feature.NEAR: (0, 1), Feature.RIGHT: (1, 2), Feature.FAR: (3, 2), Feature.LEFT: (0, 3)}
_DIAGONALS = {Feature.NL_FR: (0, 2), Feature.NR_FL: (1, 3)}
_CORNERS = (Feature.NL, Feature.NR, Feature.FR, Feature.FL)

Point = tuple[float, float]


class StrokeStyle(StrEnum):
    """What a stroke stands for."""

    BAND = "band"
    UNSURE = "unsure"
    NOMINAL = "nominal"
    TRUE = "true"
    FAILING = "failing"
    DIAGONAL = "diagonal"
    MARK = "mark"


class Stroke(Struct, frozen=True, kw_only=True):
    """A polyline; an outline ends where it began. Bands and what is unsure are areas, filled and without a line."""

    style: StrokeStyle
    points: tuple[Point, ...]


class Label(Struct, frozen=True, kw_only=True):
    """Text centred at a point; `strong` for the names of corners."""

    point: Point
    text: Part
    strong: bool = False


class ShapePicture(Struct, frozen=True, kw_only=True):
    """Strokes and labels inside the rectangle from `low` to `high`, the lowest first; `caption` is what to write below:
    what the band stands for, or why no true shape is drawn."""

    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    low: Point
    high: Point
    caption: Said


def picture_of(evaluation: Evaluation) -> ShapePicture:
    """The coupon's true shape over its nominal rectangle, corners named, diagonals and orientation mark drawn in, each
    length that was measured beside what it measures."""
    coupon = evaluation.coupon
    nominal = corners_mm(coupon, np.zeros(5))
    outline = whole_outline(evaluation)
    box = (-coupon.width_mm / 2.0, -coupon.height_mm / 2.0, coupon.width_mm, coupon.height_mm)
    limit = LIMIT_SHARE * coupon.shorter_side_mm
    drawn = nominal if outline is None else np.array(place_outline(outline, box, limit))
    reach = (1.0 + _SHOWN_SHARE + 3.2 * _LABEL_SHARE) / 2.0
    half = (
        coupon.width_mm / 2.0 + (reach - 0.5) * coupon.shorter_side_mm * 1.6,
        coupon.height_mm / 2.0 + (reach - 0.5) * coupon.shorter_side_mm,
    )
    mark = tuple(
        (
            x - coupon.width_mm / 2.0 + drawn[0][0] - nominal[0][0],
            y - coupon.height_mm / 2.0 + drawn[0][1] - nominal[0][1],
        )
        for x, y in orientation_mark(coupon).points
    )
    true = (
        Stroke(style=StrokeStyle.DIAGONAL, points=(_point(drawn[0]), _point(drawn[2]))),
        Stroke(style=StrokeStyle.DIAGONAL, points=(_point(drawn[1]), _point(drawn[3]))),
        Stroke(style=StrokeStyle.TRUE, points=ring(drawn)),
    )
    return ShapePicture(
        strokes=(
            *(() if outline is None else areas(outline, box, limit)),
            Stroke(style=StrokeStyle.NOMINAL, points=ring(nominal)),
            *_window(coupon),
            *(() if outline is None else true),
            Stroke(style=StrokeStyle.MARK, points=mark),
        ),
        labels=(*_labels(drawn, coupon.shorter_side_mm), *_measured(evaluation, drawn)),
        low=(-half[0], -half[1]),
        high=half,
        caption=_undrawn(evaluation) if outline is None else outline.caption,
    )


def _undrawn(evaluation: Evaluation) -> Said:
    """Why no true shape is drawn."""
    if evaluation.verdict is Verdict.INCONSISTENT:
        return said("nominal shape only: the readings contradict each other")
    if evaluation.told_skew_deg is None:
        return said("nominal shape only: the skew cannot be told yet")
    return said("nominal shape only: nothing that was read has a limit")


def areas(outline: Outline, box: tuple[float, float, float, float], limit: float) -> Iterator[Stroke]:
    """The band of the limit, and how far the upright edges could be off where that is wider than a line."""
    for band in place_band(outline, box, limit):
        yield Stroke(style=StrokeStyle.BAND, points=ring(band))
    if outline.u * limit > THIN_U_SHARE * min(box[2:]):
        for unsure in place_u(outline, place_outline(outline, box, limit), limit):
            yield Stroke(style=StrokeStyle.UNSURE, points=ring(unsure))


def _window(coupon: Coupon) -> tuple[Stroke, ...]:
    """The nominal window, where the coupon has one."""
    if coupon.window_width_mm is None or coupon.window_height_mm is None:
        return ()
    x, y = coupon.window_width_mm / 2.0, coupon.window_height_mm / 2.0
    return (Stroke(style=StrokeStyle.NOMINAL, points=((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y))),)


def _labels(drawn: FloatArray, shorter_mm: float) -> tuple[Label, ...]:
    labels = []
    for corner, name in zip(drawn, _CORNERS, strict=True):
        outward = (
            corner[0] + math.copysign(0.9 * _LABEL_SHARE * shorter_mm, corner[0]),
            corner[1] + math.copysign(0.8 * _LABEL_SHARE * shorter_mm, corner[1]),
        )
        labels.append(Label(point=_point(np.array(outward)), text=Name(name.upper()), strong=True))
    return tuple(labels)


def _measured(evaluation: Evaluation, drawn: FloatArray) -> Iterator[Label]:
    """The mean of every edge and diagonal that was read: edges outside, diagonals where they do not cross."""
    shorter_mm = evaluation.coupon.shorter_side_mm
    means = {item.feature: item.value for item in evaluation.adjustment.readings}
    for edge, (start, end) in _EDGES.items():
        if edge in means:
            middle = (drawn[start] + drawn[end]) / 2.0
            outward = middle / float(np.hypot(middle[0], middle[1]))
            far_out = _ACROSS_SHARE if abs(outward[0]) > abs(outward[1]) else _BESIDE_SHARE
            yield Label(point=_point(middle + far_out * shorter_mm * outward), text=Length(means[edge]))
    for diagonal, (start, end) in _DIAGONALS.items():
        if diagonal in means:
            at = drawn[start] + _ALONG_DIAGONAL * (drawn[end] - drawn[start])
            below = at - np.array((0.0, _BESIDE_SHARE * shorter_mm * 0.8))
            yield Label(point=_point(below), text=Length(means[diagonal]))


def ring(corners: FloatArray | Polygon) -> tuple[Point, ...]:
    """The corners of an outline, the first again at the end."""
    points = tuple(_point(corner) for corner in corners)
    return (*points, points[0])


def _point(corner: FloatArray | Point) -> Point:
    return (float(corner[0]), float(corner[1]))

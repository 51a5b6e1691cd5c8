"""The true shape of a coupon, its deviations exaggerated, as strokes and labels that every page can draw.

Input: an evaluation. Output: a ShapePicture in millimetres of the coupon, X to the right, Y away from the operator
(upwards), origin in the middle.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.cut_file import orientation_mark
from core.geometry.features import Feature
from core.geometry.shape import corners_mm
from core.metrology.adjustment import FloatArray
from core.metrology.evaluation import Evaluation
from core.said import Length, Name, Number, Part, Said, said

# A deviation at its limit is drawn at this share of the shorter side, whatever the limit: what is GO never looks
# crooked. Only what is many limits off is drawn smaller, at the second share.
_LIMIT_SHARE = 0.03
_SHOWN_SHARE = 0.12
_STEPS = (1.0, 2.0, 5.0)
_LABEL_SHARE = 0.075
# How far from its edge a figure stands, as shares of the shorter side: beside an edge along X, across one along Y.
_BESIDE_SHARE, _ACROSS_SHARE = 0.07, 0.19
# Figures of both diagonals stand behind the crossing, towards the far corners.
_ALONG_DIAGONAL = 0.72
_EDGES = {Feature.NEAR: (0, 1), Feature.RIGHT: (1, 2), Feature.FAR: (3, 2), Feature.LEFT: (0, 3)}
_DIAGONALS = {Feature.NL_FR: (0, 2), Feature.NR_FL: (1, 3)}
_CORNERS = (Feature.NL, Feature.NR, Feature.FR, Feature.FL)

Point = tuple[float, float]


class StrokeStyle(StrEnum):
    """What a stroke stands for."""

    NOMINAL = "nominal"
    TRUE = "true"
    DIAGONAL = "diagonal"
    MARK = "mark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A polyline; an outline ends where it began."""

    style: StrokeStyle
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Text centred at a point; `strong` for the names of corners."""

    point: Point
    text: Part
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapePicture:
    """Strokes and labels inside the rectangle from `low` to `high`; deviations are drawn `exaggeration` times, None
    where readings contradict each other and no true shape can be drawn."""

    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    low: Point
    high: Point
    exaggeration: float | None

    @property
    def caption(self) -> Said:
        """What to write below the picture."""
        if self.exaggeration is None:
            return said("nominal shape only: the readings contradict each other")
        return said(
            "deviations drawn {exaggeration} times; operator below", exaggeration=Number(self.exaggeration, None)
        )


def picture_of(evaluation: Evaluation) -> ShapePicture:
    """The coupon's true shape over its nominal rectangle, corners named, diagonals and orientation mark drawn in, each
    length that was measured beside what it measures."""
    adjustment, coupon = evaluation.adjustment, evaluation.coupon
    nominal = corners_mm(coupon, np.zeros(5))
    deviation = corners_mm(coupon, adjustment.parameters) - nominal
    exaggeration = _exaggeration(evaluation, deviation) if adjustment.consistent else None
    drawn = nominal + (exaggeration or 0.0) * deviation
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
        Stroke(style=StrokeStyle.TRUE, points=_ring(drawn)),
    )
    return ShapePicture(
        strokes=(
            Stroke(style=StrokeStyle.NOMINAL, points=_ring(nominal)),
            *_window(coupon),
            *(true if adjustment.consistent else ()),
            Stroke(style=StrokeStyle.MARK, points=mark),
        ),
        labels=(*_labels(drawn, coupon.shorter_side_mm), *_measured(evaluation, drawn)),
        low=(-half[0], -half[1]),
        high=half,
        exaggeration=exaggeration,
    )


def _window(coupon: Coupon) -> tuple[Stroke, ...]:
    """The nominal window, where the coupon has one."""
    if coupon.window_width_mm is None or coupon.window_height_mm is None:
        return ()
    x, y = coupon.window_width_mm / 2.0, coupon.window_height_mm / 2.0
    return (Stroke(style=StrokeStyle.NOMINAL, points=((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y))),)


def round_factor(wanted: float) -> float:
    """The largest of 1, 2 or 5 times a power of ten that is not above `wanted`, at least 1."""
    decade = 10.0 ** math.floor(math.log10(wanted))
    return max(1.0, max(step * decade for step in _STEPS if step * decade <= wanted))


def _exaggeration(evaluation: Evaluation, deviation: FloatArray) -> float:
    shorter_mm, limits = evaluation.coupon.shorter_side_mm, evaluation.limits
    given = [limits.perpendicularity_mm, limits.width_edge_mm, limits.height_edge_mm]
    at_limit = [_LIMIT_SHARE * shorter_mm / limit_mm for limit_mm in given if limit_mm]
    largest_mm = float(np.max(np.hypot(deviation[:, 0], deviation[:, 1])))
    most = _SHOWN_SHARE * shorter_mm / max(largest_mm, 1e-4 * shorter_mm)
    return round_factor(max(1.0, min([most, *at_limit])))


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


def _ring(corners: FloatArray) -> tuple[Point, ...]:
    points = tuple(_point(corner) for corner in corners)
    return (*points, points[0])


def _point(corner: FloatArray) -> Point:
    return (float(corner[0]), float(corner[1]))

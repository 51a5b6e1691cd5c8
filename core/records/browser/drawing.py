"""The true shape as a drawing to be touched: its strokes, and a place on it for every feature that was read.

Input: a SessionRecord. Output: a Drawing in millimetres of the coupon, origin at the upper left.
"""

from msgspec import Struct

from core.geometry import CORNERS, EDGES, Feature, FeatureKind
from core.records.session_record import SessionRecord
from core.records.shape_picture import Point, ShapePicture, StrokeStyle, picture_of
from core.said import Angle, Length, Part, said

_WIDTH = {
    StrokeStyle.BAND: 0.0,
    StrokeStyle.UNSURE: 0.0,
    StrokeStyle.NOMINAL: 0.35,
    StrokeStyle.DIAGONAL: 0.35,
    StrokeStyle.TRUE: 0.9,
    StrokeStyle.FAILING: 0.9,
    StrokeStyle.MARK: 0.9,
}
_ENDS = {
    Feature.NEAR: (0, 1),
    Feature.RIGHT: (1, 2),
    Feature.FAR: (3, 2),
    Feature.LEFT: (0, 3),
    Feature.NL_FR: (0, 2),
    Feature.NR_FL: (1, 3),
}
# An edge is touched from its middle outwards, so that the corners keep room of their own.
_SHORTENED = 0.14


class DrawnStroke(Struct, frozen=True, kw_only=True):
    """A polyline: `points` as SVG writes them."""

    style: str
    width: float
    points: str


class DrawnFeature(Struct, frozen=True, kw_only=True):
    """A feature as a place to touch: a line from (x1, y1) to (x2, y2), or a spot at (x1, y1) for a corner."""

    kind: str
    anchor: str
    name: Part
    x1: float
    y1: float
    x2: float
    y2: float


class DrawnLabel(Struct, frozen=True, kw_only=True):
    """Text centred at x on a line at y."""

    x: float
    y: float
    text: Part


class Drawing(Struct, frozen=True, kw_only=True):
    """Everything on a sheet of `width` by `height`; `reach` is how broad a place to touch is, `type` its letters."""

    name: Part
    width: float
    height: float
    reach: float
    type: float
    strokes: tuple[DrawnStroke, ...]
    features: tuple[DrawnFeature, ...]
    labels: tuple[DrawnLabel, ...]
    caption: Part


def anchor_of(feature: Feature) -> str:
    """The name of a feature's row on the page."""
    return f"read-{feature.value}"


def drawing_of(record: SessionRecord) -> Drawing:
    """The drawing of the record's best fit; where readings contradict each other, of the nominal shape."""
    picture = picture_of(record.evaluation)
    unit = (picture.high[1] - picture.low[1]) / 100.0
    return Drawing(
        name=said("The true shape"),
        width=round(picture.high[0] - picture.low[0], 3),
        height=round(picture.high[1] - picture.low[1], 3),
        reach=round(7.0 * unit, 3),
        type=round(5.0 * unit, 3),
        strokes=tuple(
            DrawnStroke(
                style=stroke.style.value,
                width=round(_WIDTH[stroke.style] * unit, 3),
                points=" ".join("{:.3f},{:.3f}".format(*_placed(picture, point)) for point in stroke.points),
            )
            for stroke in picture.strokes
        ),
        features=_features(record, picture),
        labels=tuple(
            DrawnLabel(x=place[0], y=place[1] + 1.6 * unit, text=label.text)
            for label in picture.labels
            for place in (_placed(picture, label.point),)
        ),
        caption=picture.caption,
    )


def _features(record: SessionRecord, picture: ShapePicture) -> tuple[DrawnFeature, ...]:
    outline = next(
        (stroke.points for stroke in picture.strokes if stroke.style is StrokeStyle.TRUE),
        next(stroke.points for stroke in picture.strokes if stroke.style is StrokeStyle.NOMINAL),
    )
    corners = [_placed(picture, point) for point in outline[:4]]
    found = []
    for item in record.evaluation.adjustment.readings:
        feature = item.feature
        if feature.kind is FeatureKind.WINDOW:
            continue
        value = Length(item.value) if feature.is_length else Angle(item.value)
        start = end = corners[CORNERS.index(feature)] if feature in CORNERS else (0.0, 0.0)
        if feature not in CORNERS:
            start, end = (corners[place] for place in _ENDS[feature])
        if feature in EDGES:
            start, end = _towards(start, end), _towards(end, start)
        found.append(
            DrawnFeature(
                kind="corner" if feature in CORNERS else "feature",
                anchor=anchor_of(feature),
                name=said("{feature}: {value}", feature=feature.label, value=value),
                x1=start[0],
                y1=start[1],
                x2=end[0],
                y2=end[1],
            )
        )
    # Corners last: they lie over the ends of what meets there.
    return tuple(sorted(found, key=lambda one: one.kind == "corner"))


def _towards(start: Point, end: Point) -> Point:
    return (
        round(start[0] + _SHORTENED * (end[0] - start[0]), 3),
        round(start[1] + _SHORTENED * (end[1] - start[1]), 3),
    )


def _placed(picture: ShapePicture, point: Point) -> Point:
    return round(point[0] - picture.low[0], 3), round(picture.high[1] - point[1], 3)

"""The coupon's true shape: five parameters to edge lengths, diagonals and corner angles, with the analytic Jacobian.

Corners at nominal (xi, yi) = (+-W/2, +-H/2) lie, up to a rigid motion, at

    x = xi (1 + a) + g yi + tx xi yi / (H/2)
    y = yi (1 + b)        + ty xi yi / (W/2)

Any quadrilateral is exactly one such shape: eight coordinates less three of rigid motion. The shape vector is
(a, b, g, tx, ty): scales, shear, tapers, all dimensionless. Positive skew means NL and FR acute, `nl-fr` the longer.
Plane trigonometry only; no outside source.
"""

import math
from collections.abc import Callable
from typing import Generic, TypeVar

from msgspec import Struct

from core.geometry.coupon import Coupon
from core.numeric import FloatArray, np

# One coupon's floats, or arrays with one element per coupon: the same formulas serve both.
Number = TypeVar("Number", float, FloatArray)
OfTwo = Callable[[Number, Number], Number]

SHAPE_PARAMETERS = 5
_DEG = 180.0 / math.pi


def corners_mm(coupon: Coupon, shape: FloatArray) -> FloatArray:
    """Coordinates of NL, NR, FR, FL in mm, shape (4, 2), origin in the middle; `shape` has shape (5,)."""
    a, b, g, tx, ty = (float(parameter) for parameter in shape[:SHAPE_PARAMETERS])
    half_w, half_h = coupon.width_mm / 2.0, coupon.height_mm / 2.0
    signs = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
    return np.array(
        [
            (sx * half_w * (1.0 + a) + sy * half_h * g + sx * sy * half_w * tx, sy * half_h * (1.0 + b + sx * ty))
            for sx, sy in signs
        ]
    )


class Edge(Struct, Generic[Number], frozen=True, kw_only=True):
    """An edge of a shape: how long it is (mm), cosine and sine of its direction, and the direction's derivatives
    (radians) by (a, b, g, tx, ty). Near and far point along X, right and left along Y."""

    length_mm: Number
    cos: Number
    sin: Number
    turns: tuple[Number, Number, Number, Number, Number]


Edges = tuple[Edge[Number], Edge[Number], Edge[Number], Edge[Number]]


def edges_of(
    coupon: Coupon, shape: tuple[Number, Number, Number, Number, Number], hypot: OfTwo[Number]
) -> Edges[Number]:
    """Near, right, far and left. Every number is a float or, for many coupons at once, an array; `hypot` is math's or
    numpy's."""
    a, b, g, tx, ty = shape
    W, H = coupon.width_mm, coupon.height_mm
    zero = 0.0 * a

    def along_x(side: float) -> Edge[Number]:  # the taper lengthens the far one
        dx, dy = W * (1.0 + a + side * tx), side * H * ty
        length = hypot(dx, dy)
        c, s = dx / length, dy / length
        by_a = -W * s / length
        turns = (by_a, zero, zero, side * by_a, side * H * c / length)
        return Edge(length_mm=length, cos=c, sin=s, turns=turns)

    def along_y(side: float) -> Edge[Number]:  # the taper lengthens the right one
        dx, dy = H * g + side * W * tx, H * (1.0 + b + side * ty)
        length = hypot(dx, dy)
        c, s = dx / length, dy / length
        by_b = H * c / length
        turns = (zero, by_b, -H * s / length, -side * W * s / length, side * by_b)
        return Edge(length_mm=length, cos=c, sin=s, turns=turns)

    return along_x(-1.0), along_y(1.0), along_x(1.0), along_y(-1.0)


def feature_rows(
    coupon: Coupon, shape: tuple[Number, Number, Number, Number, Number], hypot: OfTwo[Number], atan2: OfTwo[Number]
) -> tuple[list[Number], list[list[Number]]]:
    """The ten true features (mm, degrees) in the order of TEN_FEATURES, and their derivatives by (a, b, g, tx, ty).

    Numbers as in edges_of, `hypot` and `atan2` likewise.
    """
    edges = edges_of(coupon, shape, hypot)
    values, rows = edge_rows(coupon, edges)
    for more_values, more_rows in (diagonal_rows(coupon, shape, hypot), corner_rows(edges, atan2)):
        values += more_values
        rows += more_rows
    return values, rows


def edge_rows(coupon: Coupon, edges: Edges[Number]) -> tuple[list[Number], list[list[Number]]]:
    """The four edges alone, corner to corner, as in feature_rows."""
    W, H = coupon.width_mm, coupon.height_mm
    near, right, far, left = edges
    zero = 0.0 * near.cos
    rows = [
        [W * near.cos, zero, zero, -W * near.cos, -H * near.sin],
        [zero, H * right.sin, H * right.cos, W * right.cos, H * right.sin],
        [W * far.cos, zero, zero, W * far.cos, H * far.sin],
        [zero, H * left.sin, H * left.cos, -W * left.cos, -H * left.sin],
    ]
    return [edge.length_mm for edge in edges], rows


def corner_rows(edges: Edges[Number], atan2: OfTwo[Number]) -> tuple[list[Number], list[list[Number]]]:
    """The four corners alone, as in feature_rows: the turn from the edge along X to the edge along Y at NL and FR, and
    what it lacks of a half turn at NR and FL."""
    near, right, far, left = edges
    values: list[Number] = []
    rows: list[list[Number]] = []
    for x_edge, y_edge, half_turn_deg, sign in (
        (near, left, 0.0, _DEG),
        (near, right, 180.0, -_DEG),
        (far, right, 0.0, _DEG),
        (far, left, 180.0, -_DEG),
    ):
        # The angle between both as one: directions of the opposite signs would be two.
        across = x_edge.cos * y_edge.sin - x_edge.sin * y_edge.cos
        along = x_edge.cos * y_edge.cos + x_edge.sin * y_edge.sin
        values.append(half_turn_deg + sign * atan2(across, along))
        rows.append([sign * (by_y - by_x) for by_x, by_y in zip(x_edge.turns, y_edge.turns, strict=True)])
    return values, rows


def diagonal_rows(
    coupon: Coupon, shape: tuple[Number, Number, Number, Number, Number], hypot: OfTwo[Number]
) -> tuple[list[Number], list[list[Number]]]:
    """The two diagonals NL-FR and NR-FL (mm) alone, corner to corner, and their derivatives, as in feature_rows."""
    a, b, g, _, _ = shape
    W, H, zero = coupon.width_mm, coupon.height_mm, 0.0 * a
    values: list[Number] = []
    rows: list[list[Number]] = []
    for side in (1.0, -1.0):
        dx, dy = side * W * (1.0 + a) + H * g, H * (1.0 + b)
        length = hypot(dx, dy)
        c, s = dx / length, dy / length
        values.append(length)
        rows.append([side * W * c, H * s, H * c, zero, zero])
    return values, rows


def true_features(coupon: Coupon, shape: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Corner-to-corner edges, diagonals (mm) and corner angles (degrees) of a shape, in the order of TEN_FEATURES.

    `shape` holds (a, b, g, tx, ty) in its first five elements. Returns values (10,) and Jacobian (10, 5).
    """
    a, b, g, tx, ty = shape[:SHAPE_PARAMETERS].tolist()
    values, rows = feature_rows(coupon, (a, b, g, tx, ty), math.hypot, math.atan2)
    return np.array(values), np.array(rows)


def mean_y_direction(b: float, g: float) -> tuple[float, float, float]:
    """Length of the mean Y direction in nominal heights, cosine and sine of the skew."""
    length = math.hypot(g, 1.0 + b)
    return length, (1.0 + b) / length, g / length


def skew_deg(shape: FloatArray) -> tuple[float, FloatArray]:
    """90 degrees minus the angle from the mean X to the mean Y direction; positive: NL and FR acute. Gradient (5,)."""
    b, g = float(shape[1]), float(shape[2])
    length, cos, sin = mean_y_direction(b, g)
    return math.atan2(sin, cos) * _DEG, np.array([0.0, -sin / length * _DEG, cos / length * _DEG, 0.0, 0.0])


def scale_y(shape: FloatArray) -> tuple[float, FloatArray]:
    """Relative length along the mean Y direction, less one; a purely racked gantry shows none. Gradient (5,)."""
    length, cos, sin = mean_y_direction(float(shape[1]), float(shape[2]))
    return length - 1.0, np.array([0.0, cos, sin, 0.0, 0.0])

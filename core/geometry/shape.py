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
from typing import TypeVar

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


def feature_rows(
    coupon: Coupon, shape: tuple[Number, Number, Number, Number, Number], hypot: OfTwo[Number], atan2: OfTwo[Number]
) -> tuple[list[Number], list[list[Number]]]:
    """The ten true features (mm, degrees) in the order of TEN_FEATURES, and their derivatives by (a, b, g, tx, ty).

    Every number is a float or, for many coupons at once, an array; `hypot` and `atan2` are those of math or numpy.
    """
    a, b, g, tx, ty = shape
    W, H = coupon.width_mm, coupon.height_mm
    zero = 0.0 * a
    values: list[Number] = []
    rows: list[list[Number]] = []
    directions: list[Number] = []
    turns: list[tuple[Number, ...]] = []
    # Near and far edge point along X; the taper lengthens the far one.
    for side in (-1.0, 1.0):
        dx, dy = W * (1.0 + a + side * tx), side * H * ty
        length = hypot(dx, dy)
        c, s = dx / length, dy / length
        values.append(length)
        rows.append([W * c, zero, zero, side * W * c, side * H * s])
        directions.append(atan2(dy, dx) * _DEG)
        along, across = _DEG * H * c / length, -_DEG * W * s / length
        turns.append((across, side * across, side * along))  # by a, tx, ty
    # Right and left edge point along Y; the taper lengthens the right one.
    for side in (1.0, -1.0):
        dx, dy = H * g + side * W * tx, H * (1.0 + b + side * ty)
        length = hypot(dx, dy)
        c, s = dx / length, dy / length
        values.append(length)
        rows.append([zero, H * s, H * c, side * W * c, side * H * s])
        directions.append(atan2(dy, dx) * _DEG)
        per_mm = _DEG / length
        turns.append((H * c * per_mm, -H * s * per_mm, -side * W * s * per_mm, side * H * c * per_mm))  # b, g, tx, ty
    diagonals, diagonal_slopes = diagonal_rows(coupon, shape, hypot)
    values += diagonals
    rows += diagonal_slopes
    # Corners NL, NR, FR, FL: the turn from the edge along X to the edge along Y, or what it lacks of a half turn.
    near, far, right, left = 0, 1, 2, 3
    for x_edge, y_edge, lacking in ((near, left, False), (near, right, True), (far, right, False), (far, left, True)):
        (xa, xtx, xty), (yb, yg, ytx, yty) = turns[x_edge], turns[y_edge]
        if lacking:
            values.append(180.0 + directions[x_edge] - directions[y_edge])
            rows.append([xa, -yb, -yg, xtx - ytx, xty - yty])
        else:
            values.append(directions[y_edge] - directions[x_edge])
            rows.append([-xa, yb, yg, ytx - xtx, yty - xty])
    # Into the order of TEN_FEATURES: near, right, far, left.
    values[far], values[right] = values[right], values[far]
    rows[far], rows[right] = rows[right], rows[far]
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

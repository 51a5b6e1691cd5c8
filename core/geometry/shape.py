"""The coupon's true shape: five parameters to edge lengths, diagonals and corner angles, with the analytic Jacobian.

Corners at nominal (xi, yi) = (+-W/2, +-H/2) lie, up to a rigid motion, at

    x = xi (1 + a) + g yi + tx xi yi / (H/2)
    y = yi (1 + b)        + ty xi yi / (W/2)

Any quadrilateral is exactly one such shape: eight coordinates less three of rigid motion. The shape vector is
(a, b, g, tx, ty): scales, shear, tapers, all dimensionless. Positive skew means NL and FR acute, `nl-fr` the longer.

The formulas work on floats and, elementwise, on arrays of many coupons alike; the functions for people take the shape
vector of one coupon. Plane trigonometry only; no outside source.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from core.geometry.coupon import Coupon

FloatArray = NDArray[np.float64]

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


def true_features(coupon: Coupon, shape: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Corner-to-corner edges, diagonals (mm) and corner angles (degrees) of a shape, in the order of TEN_FEATURES.

    `shape` holds (a, b, g, tx, ty) in its first five elements. Returns values (10,) and Jacobian (10, 5).
    """
    a, b, g, tx, ty = (float(parameter) for parameter in shape[:SHAPE_PARAMETERS])
    W, H = coupon.width_mm, coupon.height_mm
    # Edge and diagonal vectors (dx, dy) and their derivatives by the five parameters.
    vectors = (
        (W * (1.0 + a - tx), -H * ty, (W, 0.0, 0.0, -W, 0.0), (0.0, 0.0, 0.0, 0.0, -H)),  # near, NL to NR
        (g * H + W * tx, H * (1.0 + b + ty), (0.0, 0.0, H, W, 0.0), (0.0, H, 0.0, 0.0, H)),  # right, NR to FR
        (W * (1.0 + a + tx), H * ty, (W, 0.0, 0.0, W, 0.0), (0.0, 0.0, 0.0, 0.0, H)),  # far, FL to FR
        (g * H - W * tx, H * (1.0 + b - ty), (0.0, 0.0, H, -W, 0.0), (0.0, H, 0.0, 0.0, -H)),  # left, NL to FL
        (W * (1.0 + a) + g * H, H * (1.0 + b), (W, 0.0, H, 0.0, 0.0), (0.0, H, 0.0, 0.0, 0.0)),  # NL to FR
        (-W * (1.0 + a) + g * H, H * (1.0 + b), (-W, 0.0, H, 0.0, 0.0), (0.0, H, 0.0, 0.0, 0.0)),  # NR to FL
    )
    lengths = []
    length_rows = []
    directions = []
    direction_rows = []
    for dx, dy, ddx, ddy in vectors:
        length = math.hypot(dx, dy)
        cos, sin = dx / length, dy / length
        lengths.append(length)
        length_rows.append([cos * px + sin * py for px, py in zip(ddx, ddy, strict=True)])
        directions.append(math.atan2(dy, dx) * _DEG)
        direction_rows.append([(cos * py - sin * px) / length * _DEG for px, py in zip(ddx, ddy, strict=True)])
    near, right, far, left = directions[:4]
    corner_angles = [left - near, 180.0 + near - right, right - far, 180.0 + far - left]
    pairs = ((3, 0), (0, 1), (1, 2), (2, 3))
    corner_rows = [
        [p - q for p, q in zip(direction_rows[plus], direction_rows[minus], strict=True)] for plus, minus in pairs
    ]
    return np.array(lengths + corner_angles), np.array(length_rows + corner_rows)


def skew_deg(shape: FloatArray) -> tuple[float, FloatArray]:
    """90 degrees minus the angle from the mean X to the mean Y direction; positive: NL and FR acute. Gradient (5,)."""
    b, g = float(shape[1]), float(shape[2])
    squared = g * g + (1.0 + b) ** 2
    gradient = np.array([0.0, -g / squared, (1.0 + b) / squared, 0.0, 0.0]) * _DEG
    return math.atan2(g, 1.0 + b) * _DEG, gradient


def scale_y(shape: FloatArray) -> tuple[float, FloatArray]:
    """Relative length along the mean Y direction, less one; a purely racked gantry shows none. Gradient (5,)."""
    b, g = float(shape[1]), float(shape[2])
    length = math.hypot(g, 1.0 + b)
    return length - 1.0, np.array([0.0, (1.0 + b) / length, g / length, 0.0, 0.0])

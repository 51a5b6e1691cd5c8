"""What a caliper seated on two neighbouring edges reads of the edge between them, with the analytic derivatives.

Stage: between shape and measuring model. In: coupon, depth of the jaws, edges of the shape. Out: the four
distances without any error of the instrument. On each of the neighbouring edges the jaws lie from the end of the seat
(the corner, where there is none) over their depth; the reading is taken half-way, square to the mean direction of both.
On a tapered coupon depth shows: 0.6 mm of taper over 80 mm read 0.36 mm sixteen millimetres deep. (Rigid jaws touch the
wider end, up to 0.03 mm more at 0.6 mm of taper.) Plane trigonometry only.
"""

from functools import lru_cache

from core.geometry import Coupon, Edge, Edges, Feature, Number, OfTwo


def seated_edges(
    coupon: Coupon,
    jaw_depth_mm: float,
    edges: Edges[Number],
    hypot: OfTwo[Number],
) -> tuple[list[Number], list[list[Number]]]:
    """Distances (mm) in the order near, right, far, left, and their derivatives by (a, b, g, tx, ty).

    Numbers as in edges_of.
    """
    W, H = coupon.width_mm, coupon.height_mm
    along_x_mm, along_y_mm = _depths_mm(coupon, jaw_depth_mm)
    near, right, far, left = edges
    values: list[Number] = []
    rows: list[list[Number]] = []
    cos, sin, cos_half, sin_half = _between(left, right, hypot)
    for edge, side, depths_mm in zip((near, far), (-1.0, 1.0), along_y_mm, strict=True):
        dx, dy, T = edge.length_mm * edge.cos, edge.length_mm * edge.sin, side * depths_mm
        values.append(dx * sin - dy * cos + T * sin_half)
        # By the mean of both directions and by half their difference, so by each.
        by_mean, by_half = (dx * cos + dy * sin) / 2.0, T * cos_half / 2.0
        by_left, by_right = by_mean - by_half, by_mean + by_half
        row = [by_left * one + by_right * other for one, other in zip(left.turns, right.turns, strict=True)]
        rows.append([row[0] + W * sin, row[1], row[2], row[3] + side * W * sin, row[4] - side * H * cos])
    cos, sin, cos_half, sin_half = _between(near, far, hypot)
    for edge, side, depths_mm in zip((right, left), (1.0, -1.0), along_x_mm, strict=True):
        dx, dy, T = edge.length_mm * edge.cos, edge.length_mm * edge.sin, side * depths_mm
        values.append(dy * cos - dx * sin - T * sin_half)
        by_mean, by_half = (-dx * cos - dy * sin) / 2.0, -T * cos_half / 2.0
        by_near, by_far = by_mean - by_half, by_mean + by_half
        row = [by_near * one + by_far * other for one, other in zip(near.turns, far.turns, strict=True)]
        rows.append(
            [row[0], row[1] + H * cos, row[2] - H * sin, row[3] - side * W * sin, row[4] + side * H * cos],
        )
    return [values[0], values[2], values[1], values[3]], [rows[0], rows[2], rows[1], rows[3]]


@lru_cache(maxsize=64)
def _depths_mm(coupon: Coupon, jaw_depth_mm: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """How deep the jaws lie, both sides together: along X for right and left, along Y for near and far."""
    nl, nr, fr, fl = (coupon.legs(corner) for corner in (Feature.NL, Feature.NR, Feature.FR, Feature.FL))
    return (
        (nr.along_x_mm + fr.along_x_mm + jaw_depth_mm, nl.along_x_mm + fl.along_x_mm + jaw_depth_mm),
        (nl.along_y_mm + nr.along_y_mm + jaw_depth_mm, fl.along_y_mm + fr.along_y_mm + jaw_depth_mm),
    )


def _between(first: Edge[Number], second: Edge[Number], hypot: OfTwo[Number]) -> tuple[Number, Number, Number, Number]:
    """Cosine and sine of the mean direction, and of half the turn from first to second."""
    x, y = first.cos + second.cos, first.sin + second.sin
    length = hypot(x, y)
    sin_half = (first.cos * second.sin - first.sin * second.cos) / length
    return x / length, y / length, length / 2.0, sin_half

"""What a caliper from seat to seat reads of a shape, with the analytic derivatives.

Stage: between shape and measuring model. In: coupon, widths of its seats, shape (a, b, g, tx, ty) as in
core.geometry.shape. Out: the two distances without any error of the instrument. Plane trigonometry only.
"""

from core.geometry.coupon import Coupon
from core.geometry.seats import Seats, seat_legs
from core.geometry.shape import Edges, Number, OfTwo


def seated_diagonals(
    coupon: Coupon,
    seats: Seats,
    shape: tuple[Number, Number, Number, Number, Number],
    edges: Edges[Number],
    hypot: OfTwo[Number],
) -> tuple[list[Number], list[list[Number]]]:
    """Distances seat to seat (mm) of `nl-fr` and `nr-fl`, and their derivatives by (a, b, g, tx, ty).

    The ends of a seat lie its legs away from the corner along the shape's edges; with the chords of the two seats
    likewise directed, the jaws close square to their sum: the reading is the part of the line between the chords'
    middles along that. `edges` are the shape's own; numbers as in edges_of.
    """
    W, H = coupon.width_mm, coupon.height_mm
    a, b, g, _, _ = shape
    near, right, far, left = edges
    values, rows = [], []
    for side, seat_mm in ((1.0, seats.nl_fr_mm), (-1.0, seats.nr_fl_mm)):
        legs = seat_legs(W, H, seat_mm)
        lx, ly = side * legs.along_x_mm, legs.along_y_mm
        xc, xs = lx * (near.cos + far.cos), lx * (near.sin + far.sin)
        yc, ys = ly * (right.cos + left.cos), ly * (right.sin + left.sin)
        mx, my = side * W * (1.0 + a) + H * g - (xc + yc) / 2.0, H * (1.0 + b) - (xs + ys) / 2.0
        chord = hypot(yc - xc, ys - xs)
        cx, cy = (yc - xc) / chord, (ys - xs) / chord
        across = cy * mx - cx * my
        values.append(side * across)
        # Slopes by the chords' sum (sx, sy) and by the line between the middles (cy, -cx), then by the edges' turns.
        sx, sy = -side * (my + across * cx) / chord, side * (mx - across * cy) / chord
        dx, dy = side * cy, -side * cx
        by_x = (lx * (-sx - dx / 2.0), lx * (-sy - dy / 2.0))
        by_y = (ly * (sx - dx / 2.0), ly * (sy - dy / 2.0))
        row = [side * W * dx, H * dy, H * dx, 0.0 * a, 0.0 * a]
        for edge, (across_x, across_y) in zip(edges, (by_x, by_y, by_x, by_y), strict=True):
            slope = across_y * edge.cos - across_x * edge.sin
            row = [sum_ + slope * turn for sum_, turn in zip(row, edge.turns, strict=True)]
        rows.append(row)
    return values, rows

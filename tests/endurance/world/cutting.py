"""Coupons as a machine really cuts them: polygons, many at once, made from the house's own cut file and nothing else.

A tool follows the outline of the file on a bed whose gantry is out of square by a yaw that may change along its travel;
it takes away half a kerf, which may grow along the way round; edges bow, seats are off by their form, corners burn.
Nothing here knows the measuring model: no formula of core is used, only the lines of the file that goes to the machine.
Arrays have one row a coupon; lengths are mm, angles radians, X right and Y away from the operator.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.cut_file import CutPlan, draw

Array = NDArray[np.float64]
CORNER_NAMES = ("nl", "nr", "fr", "fl")
EDGE_NAMES = ("near", "right", "far", "left")
_WAVES = 4


class Machine(Struct, frozen=True):
    """What one machine does to each of m coupons: `skew` (m,) its yaw, `yaw_change` (m,) over the coupon's depth,
    `scale` (m, 2), `kerf` (m,) and what it grows by on the way round, `kerf_growth` (m,)."""

    skew: Array
    yaw_change: Array
    scale: Array
    kerf: Array
    kerf_growth: Array


class Pieces(Struct, frozen=True):
    """m cut coupons. `corners` (m, 4, 2): where the lines of neighbouring edges meet, NL NR FR FL of the design;
    `ends` (m, 4, 2, 2): begin and end of each straight edge, counter-clockwise from near; `waves` (m, 4, k) and
    `phases` (m, 4, k): its bow; `seat_off` (m, 4): by how much a seat lies too far in; `burnt` (m, 4): how deep."""

    seated: bool
    corners: Array
    ends: Array
    waves: Array
    phases: Array
    seat_off: Array
    burnt: Array

    @property
    def true_skew(self) -> Array:
        """90 degrees less the angle from the mean X to the mean Y direction, of the lines without bow, (m,)."""
        nl, nr, fr, fl = (self.corners[:, k] for k in range(4))
        across, along = (nr - nl) + (fr - fl), (fl - nl) + (fr - nr)
        cross = across[:, 0] * along[:, 1] - across[:, 1] * along[:, 0]
        return np.asarray(np.arctan2((across * along).sum(-1), cross))

    @property
    def true_angles(self) -> Array:
        """Interior angles at NL NR FR FL, (m, 4)."""
        following, before = np.roll(self.corners, -1, axis=1), np.roll(self.corners, 1, axis=1)
        one, other = following - self.corners, before - self.corners
        return np.arctan2(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0], (one * other).sum(-1))

    @property
    def true_edges(self) -> Array:
        """Lengths of near, right, far, left between the corners, (m, 4)."""
        return np.asarray(np.linalg.norm(np.roll(self.corners, -1, axis=1) - self.corners, axis=-1))

    def edge_points(self, edge: int, distances: Array, *, from_end: bool) -> Array:
        """Points (m, n, 2) of an edge's outline, `distances` (m, n) from where its straight part begins or ends."""
        begin, end = self.ends[:, edge, 0], self.ends[:, edge, 1]
        length = np.linalg.norm(end - begin, axis=-1)[:, None]
        share = 1.0 - distances / length if from_end else distances / length
        along = (end - begin)[:, None] * share[..., None]
        way = (end - begin) / length
        outward = np.stack([way[:, 1], -way[:, 0]], axis=-1)[:, None]
        turns = np.pi * np.arange(1, _WAVES + 1)
        bow = (self.waves[:, edge, None] * np.cos(turns * share[..., None] + self.phases[:, edge, None])).sum(-1)
        return begin[:, None] + along + outward * bow[..., None]


def cut(
    rng: np.random.Generator,
    coupon: Coupon,
    machine: Machine,
    *,
    edge_form: float,
    seat_form: float,
    burnt: Array,
    quarter_turns: int = 0,
) -> Pieces:
    """Cut one coupon a row. `quarter_turns`: the design was turned counter-clockwise in the cutting software.

    `seat_form` is the standard deviation of a diagonal from seat to seat, `edge_form` of one edge's distance; both
    are shared by the two flanks. Whatever lies in the design's frame (corner names) is the design's, not the bed's.
    """
    path = _outline(coupon)
    m = len(machine.skew)
    bed = _turned(path, coupon, quarter_turns)
    yaw = machine.skew[:, None] + machine.yaw_change[:, None] * (bed[None, :, 1] / coupon.height_mm - 0.5)
    x, y = bed[None, :, 0] * machine.scale[:, :1], bed[None, :, 1] * machine.scale[:, 1:]
    tool = np.stack([x * np.cos(yaw), y + x * np.sin(yaw)], axis=-1)
    lines = _offset_lines(tool, machine)
    outline = _meeting(np.roll(lines, 1, axis=1), lines)  # vertex k: where the line before meets line k
    n = path.shape[0]
    ends = np.stack([outline, np.roll(outline, -1, axis=1)], axis=2)
    straight = ends[:, :: n // 4]
    edge_lines = lines[:, :: n // 4]
    per_flank = 1.0 / np.sqrt(2.0)
    return Pieces(
        seated=n == 8,
        corners=_meeting(np.roll(edge_lines, 1, axis=1), edge_lines),
        ends=straight,
        waves=rng.normal(0.0, edge_form * per_flank * np.sqrt(2.0 / _WAVES), (m, 4, _WAVES)),
        phases=rng.uniform(0.0, 2.0 * np.pi, (m, 4, _WAVES)),
        seat_off=rng.normal(0.0, seat_form * per_flank, (m, 4)),
        burnt=burnt,
    )


def _outline(coupon: Coupon) -> Array:
    """Vertices of the outline in the file, beginning with the near edge: (4, 2), or (8, 2) with seats."""
    points = np.array(draw(CutPlan(coupon=coupon, lead_in_mm=0.0)).lines[-1].points)
    vertices = np.unique(np.round(points, 9), axis=0)
    middle = np.array([coupon.width_mm, coupon.height_mm]) / 2.0
    start = points[0]
    vertices = vertices[np.linalg.norm(vertices - start, axis=1) > 1e-6]
    turn = np.arctan2(*(vertices - middle).T[::-1])
    ring = vertices[np.argsort(turn)]
    near = [k for k in range(len(ring)) if ring[k, 1] < 1e-9 and ring[(k + 1) % len(ring), 1] < 1e-9]
    return np.roll(ring, -near[0], axis=0)


def _turned(path: Array, coupon: Coupon, quarter_turns: int) -> Array:
    middle = np.array([coupon.width_mm, coupon.height_mm]) / 2.0
    about = path - middle
    for _ in range(quarter_turns % 4):
        about = np.stack([-about[:, 1], about[:, 0]], axis=-1)
    return about + middle


def _offset_lines(tool: Array, machine: Machine) -> Array:
    """The sides left of the tool's path: (m, n, 2, 2) two points of each."""
    following = np.roll(tool, -1, axis=1)
    way = following - tool
    length = np.linalg.norm(way, axis=-1, keepdims=True)
    inward = np.stack([-way[..., 1], way[..., 0]], axis=-1) / length
    gone = np.cumsum(length[..., 0], axis=1) / length[..., 0].sum(1, keepdims=True)
    since = np.concatenate([np.zeros((len(tool), 1)), gone[:, :-1]], axis=1)
    half = machine.kerf[:, None] / 2.0
    at_begin, at_end = half + machine.kerf_growth[:, None] * since / 2.0, half + machine.kerf_growth[:, None] * gone / 2
    return np.stack([tool + inward * at_begin[..., None], following + inward * at_end[..., None]], axis=2)


def _meeting(one: Array, other: Array) -> Array:
    """Where lines (m, n, 2, 2) meet, pair by pair: (m, n, 2)."""
    p, r = one[..., 0, :], one[..., 1, :] - one[..., 0, :]
    q, s = other[..., 0, :], other[..., 1, :] - other[..., 0, :]
    denominator = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    t = ((q - p)[..., 0] * s[..., 1] - (q - p)[..., 1] * s[..., 0]) / denominator
    return np.asarray(p + t[..., None] * r)

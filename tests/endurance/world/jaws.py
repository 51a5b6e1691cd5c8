"""Jaws and blades on real outlines: what a flawless caliper and a flawless angle gauge would show of a piece.

Jaws are two parallel planes that close on points of the outline and are rocked for the smallest reading; blades lie on
the outline's hull. Nothing is linearised, and no formula of the measuring model is used.
"""

from __future__ import annotations

import numpy as np

from tests.endurance.world.cutting import Array, Pieces

# Order of the columns everywhere: that of the ten features.
FEATURES = ("near", "right", "far", "left", "nl-fr", "nr-fl", "nl", "nr", "fr", "fl")
_NEAR, _RIGHT, _FAR, _LEFT = range(4)
# For each measured edge: the edges on which the jaws lie (first where lengths begin), and whether the contact lies at
# that edge's end, seen counter-clockwise.
_JAWS_ON = {
    _NEAR: ((_LEFT, True), (_RIGHT, False)),
    _FAR: ((_LEFT, False), (_RIGHT, True)),
    _RIGHT: ((_NEAR, True), (_FAR, False)),
    _LEFT: ((_NEAR, False), (_FAR, True)),
}
_BLADE_MM = 60.0


def flawless_readings(rng: np.random.Generator, pieces: Pieces, depth_mm: float, depth_sd_mm: float) -> Array:
    """The ten features of every piece, (m, 10) in mm and degrees; the depth of the jaws is as good as the hand."""
    m = len(pieces.corners)
    columns = []
    for edge in range(4):
        depth = np.clip(rng.normal(depth_mm, depth_sd_mm, m), 3.0, None)
        columns.append(_edge(pieces, edge, depth))
    for corner in (0, 1):
        tilt = rng.normal(0.0, np.radians(0.2), m)
        columns.append(_seat_to_seat(pieces, corner) if pieces.seated else _corner_to_corner(pieces, corner, tilt))
    columns += [np.degrees(_angle(pieces, corner)) for corner in range(4)]
    return np.stack(columns, axis=-1)


def closed(first: Array, second: Array, middle: Array, half_range: float) -> Array:
    """Smallest distance (m,) of parallel planes round two heaps of points (m, n, 2), rocked about `middle` (m,)."""
    width = half_range
    best = middle
    for steps in (121, 25, 25):
        turn = best[:, None] + np.linspace(-width, width, steps)
        way = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        low = np.einsum("mnc,msc->msn", first, way).min(-1)
        high = np.einsum("mnc,msc->msn", second, way).max(-1)
        opening = high - low
        at = opening.argmin(1)
        best = turn[np.arange(len(turn)), at]
        width = 2.0 * width / (steps - 1)
    return np.asarray(opening.min(1))


def _edge(pieces: Pieces, edge: int, depth: Array) -> Array:
    """Jaws over an edge: planes on the two neighbouring edges, from their seats' ends to the tips of the jaws."""
    corner, following = pieces.corners[:, edge], pieces.corners[:, (edge + 1) % 4]
    way = (following - corner) / np.linalg.norm(following - corner, axis=-1, keepdims=True)
    heaps = []
    # The tips reach as far from the edge on both sides: beyond the longer seat by the depth.
    legs = []
    for other, from_end in _JAWS_ON[edge]:
        start = pieces.ends[:, other, 1 if from_end else 0]
        legs.append(np.abs((start - corner)[:, 0] * -way[:, 1] + (start - corner)[:, 1] * way[:, 0]))
    tips = np.maximum(*legs) + depth
    for (other, from_end), leg in zip(_JAWS_ON[edge], legs, strict=True):
        at_corner = (other + 1) % 4 if from_end else other
        start = np.minimum(0.3 + pieces.burnt[:, at_corner], 0.5 * (tips - leg))
        reach = start[:, None] + (tips - leg - start)[:, None] * np.linspace(0.0, 1.0, 6)
        heaps.append(pieces.edge_points(other, reach, from_end=from_end))
    first, second = heaps
    along = second.mean(1) - first.mean(1)
    return closed(first, second, np.arctan2(along[:, 1], along[:, 0]), np.radians(2.5))


def _seat_to_seat(pieces: Pieces, corner: int) -> Array:
    """Planes on two opposite seats; what is burnt at a seat's ends is missing from its length alone."""
    heaps, middles = [], []
    for at in (corner, corner + 2):
        # A seat runs from the end of the edge before its corner to the begin of the edge after it.
        one, other = pieces.ends[:, (at - 1) % 4, 1], pieces.ends[:, at % 4, 0]
        way = other - one
        length = np.linalg.norm(way, axis=-1, keepdims=True)
        inward = np.stack([-way[:, 1], way[:, 0]], axis=-1) / length
        gone = np.minimum(pieces.burnt[:, at % 4, None] / length, 0.4)
        share = gone + (1.0 - 2.0 * gone) * np.linspace(0.0, 1.0, 5)
        off = inward * pieces.seat_off[:, at % 4, None]
        heaps.append((one + off)[:, None] + way[:, None] * share[..., None])
        middles.append((one + other) / 2.0)
    along = middles[1] - middles[0]
    # Farther askew the jaws would climb over the seat's end, which a hand feels.
    return closed(heaps[0], heaps[1], np.arctan2(along[:, 1], along[:, 0]), np.radians(1.5))


def _corner_to_corner(pieces: Pieces, corner: int, tilt: Array) -> Array:
    """Planes on two opposite corners, square to the line that joins them but for the hand; burnt corners are flats."""
    one, other = pieces.corners[:, corner], pieces.corners[:, corner + 2]
    across = other - one
    length = np.linalg.norm(across, axis=-1)
    lost = sum(pieces.burnt[:, at] + pieces.seat_off[:, at] for at in (corner, corner + 2))
    return np.asarray(length * np.cos(tilt) - lost)


def _angle(pieces: Pieces, corner: int) -> Array:
    """The angle between blades that lie on the outline of the two edges of a corner, radians."""
    before, after = (corner - 1) % 4, corner
    first = _blade(pieces, after, from_end=False, skipped=pieces.burnt[:, corner])
    second = _blade(pieces, before, from_end=True, skipped=pieces.burnt[:, corner])
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    return np.asarray(np.arctan2(cross, (first * second).sum(-1)))


def _blade(pieces: Pieces, edge: int, *, from_end: bool, skipped: Array) -> Array:
    """Direction (m, 2), away from the corner, of a straight blade that rests on the hull of an edge at its middle."""
    length = np.linalg.norm(pieces.ends[:, edge, 1] - pieces.ends[:, edge, 0], axis=-1)
    begin = 0.3 + skipped
    end = np.minimum(length - 0.3, _BLADE_MM)
    places = begin[:, None] + (end - begin)[:, None] * np.linspace(0.0, 1.0, 11)
    points = pieces.edge_points(edge, places, from_end=from_end)
    along = points[:, -1] - points[:, 0]
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    side = -1.0 if from_end else 1.0  # seen from the corner, the waste lies right of an edge that begins there
    away = side * np.stack([along[:, 1], -along[:, 0]], axis=-1)
    about = points - points[:, 5:6]
    x, high = np.einsum("mnc,mc->mn", about, along), np.einsum("mnc,mc->mn", about, away)
    slope, width = np.zeros(len(x)), 0.006
    for steps in (61, 21, 21):
        tried = slope[:, None] + np.linspace(-width, width, steps)
        rest = (high[:, None] - tried[..., None] * x[:, None]).max(-1).argmin(1)
        slope = tried[np.arange(len(tried)), rest]
        width = 2.0 * width / (steps - 1)
    return along + slope[:, None] * away

"""Where the gantry lies on the drawing of the bed, and where the pointer stands on its ladder.

Stage: screen. Input: the area in px, which end moves and which way, what is left of the way. Output: points in px,
origin lower left. The view is the operator's: the front edge is below, "farther" is up, whatever the axes are called.

`left` is what is left to go as a part of the whole way: 1 where the gantry was, 0 at the goal, below 0 beyond it.
"""

from msgspec import Struct

from core.machine import Side

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, width, height

# How far the moving end is drawn from its goal at the start, as a part of the bed along the motion: enough to be seen
# as crooked from 1.5 m, and never so much that the bar leaves the bed.
LEAN = 0.16
# The gantry's ends reach beyond the bed, as they do on a machine.
_OVERHANG = 0.04
# What is drawn of a way too far: a pointer that ran off its ladder waits at its end.
MOST_LEFT, LEAST_LEFT = 1.0, -1.0


class GantryPlace(Struct, frozen=True, kw_only=True):
    """The gantry's axis from its `still` end to its `moving` end, the `goal` of the latter, and the way it has to be
    pushed now: from the moving end to the `tip`, None once it is there."""

    still: Point
    moving: Point
    goal: Point
    tip: Point | None


class LadderPlace(Struct, frozen=True, kw_only=True):
    """A ladder along the real motion. `start`, `goal` and `beyond` are on one line; `pointer` is where the end is now;
    `half_zone_px` is half the length of the zone in which it may stop."""

    start: Point
    goal: Point
    beyond: Point
    pointer: Point
    half_zone_px: float


def held_on(left: float) -> float:
    """What is left, kept on the drawing."""
    return min(MOST_LEFT, max(LEAST_LEFT, left))


def place_gantry(bed: Box, *, end: Side, way: Side, left: float, inside: bool, arrow_px: float) -> GantryPlace:
    """The gantry on the bed. `way` is where the moving end goes on the whole: it and `end` lie across each other.

    Raises ValueError where they do not.
    """
    if (end.vector * way.vector.conjugate()).real:
        raise ValueError(f"an end cannot move along the gantry: {end} end to the {way}")
    x, y, width, height = bed
    middle = complex(x + width / 2, y + height / 2)
    along, across = (width, height) if end.vector.real else (height, width)
    reach = along * (0.5 + _OVERHANG)
    goal = middle + reach * end.vector
    still = middle - reach * end.vector
    moving = goal - LEAN * across * held_on(left) * way.vector
    push = way.vector if left > 0 else -way.vector
    tip = None if inside else moving + arrow_px * push
    return GantryPlace(
        still=_point(still), moving=_point(moving), goal=_point(goal), tip=None if tip is None else _point(tip)
    )


def place_ladder(area: Box, *, way: Side, left: float, zone: float) -> LadderPlace:
    """The ladder in the middle of its area; `zone` is half the goal's width as a part of the whole way."""
    x, y, width, height = area
    middle = complex(x + width / 2, y + height / 2)
    half = (width if way.vector.real else height) / 2
    return LadderPlace(
        start=_point(middle - half * way.vector),
        goal=_point(middle),
        beyond=_point(middle + half * way.vector),
        pointer=_point(middle - half * held_on(left) * way.vector),
        half_zone_px=min(half, half * zone),
    )


def _point(place: complex) -> Point:
    return place.real, place.imag

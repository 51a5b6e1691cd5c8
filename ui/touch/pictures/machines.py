"""Both answers to a question about a machine, drawn from above as its operator sees it: the front is the thick edge."""

from core.machine import Front, HowHeld, Process, Side
from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, arrow, box, frame, line

_BED: Picture = (frame(12, 16, 76, 72, role=Role.QUIET, line=2.5), box(12, 10, 76, 6))
_ALONG: Picture = (box(6, 48, 88, 9),)
_UPRIGHT: Picture = (box(46, 8, 9, 86),)

PROCESSES: dict[Process, Picture] = {
    Process.LASER: (
        box(36, 70, 28, 18),
        Fill(points=((40, 70), (60, 70), (52, 56), (48, 56))),
        line((50, 56), (50, 22), role=Role.DANGER, width=3.5),
        line((38, 30), (50, 22), (62, 30), role=Role.DANGER, width=2.5),
        box(10, 10, 80, 10, Role.QUIET),
    ),
    Process.ROUTER: (
        box(34, 58, 32, 34),
        box(43, 46, 14, 12, Role.QUIET),
        box(46, 20, 8, 26),
        line((46, 38), (54, 32), role=Role.PAPER, width=2.5),
        line((46, 30), (54, 24), role=Role.PAPER, width=2.5),
        box(10, 10, 80, 10, Role.QUIET),
    ),
    Process.KNIFE: (
        box(40, 54, 20, 38),
        Fill(points=((42, 54), (58, 54), (46, 22))),
        box(10, 10, 80, 10, Role.QUIET),
        line((20, 20), (46, 20), role=Role.DANGER, width=2.5),
    ),
    Process.PLOTTER: (
        box(42, 46, 16, 46),
        Fill(points=((42, 46), (58, 46), (50, 24))),
        box(10, 10, 80, 10, Role.QUIET),
        line((14, 22), (26, 30), (38, 20), (50, 24), role=Role.ACT, width=3.0),
    ),
    Process.OTHER: (
        frame(30, 50, 40, 40, line=4.0),
        line((40, 76), (50, 82), (60, 74), (50, 66), (50, 62), width=4.0),
        Circle(centre=(50, 56), radius=2.4),
        box(10, 10, 80, 10, Role.QUIET),
    ),
}


def bed_with_gantry(*, along: bool) -> Picture:
    """The bed and the gantry over it, from left to right (`along`) or from near to far."""
    return (*_BED, *(_ALONG if along else _UPRIGHT))


def gantry_along(across_bed: bool) -> Picture:
    """The gantry from left to right over the bed, or from near to far; the arrow is how it travels."""
    if across_bed:
        return (*_BED, *_ALONG, *arrow((50, 60), (50, 84)), *arrow((50, 45), (50, 21)))
    return (*_BED, *_UPRIGHT, *arrow((58, 52), (84, 52)), *arrow((43, 52), (17, 52)))


_LETTER_X: Picture = (line((64, 42), (78, 64), width=4.0), line((78, 42), (64, 64), width=4.0))
_LETTER_Y: Picture = (line((64, 64), (71, 53), (78, 64), width=4.0), line((71, 53), (71, 42), width=4.0))
FRONTS: dict[Front, Picture] = {
    Front.Y_AWAY: (*_BED, *_LETTER_Y, *arrow((50, 28), (50, 80))),
    Front.Y_TOWARD: (*_BED, *_LETTER_Y, *arrow((50, 80), (50, 28))),
    Front.X_AWAY: (*_BED, *_LETTER_X, *arrow((50, 28), (50, 80))),
    Front.X_TOWARD: (*_BED, *_LETTER_X, *arrow((50, 80), (50, 28))),
}


def moving_ends(ends: tuple[Side, ...]) -> Picture:
    """The gantry with an arrow both ways at every end that can be moved."""
    along = any(end.vector.real for end in ends)
    picture: Picture = (*_BED, *(_ALONG if along else _UPRIGHT))
    for end in ends:
        middle = complex(50, 52) + 38 * end.vector
        way = 1j * end.vector
        for sign in (-1, 1):
            start, tip = middle + sign * 8 * way, middle + sign * 26 * way
            picture += arrow((start.real, start.imag), (tip.real, tip.imag), width=4.0)
    return picture


def reference_on(side: Side) -> Picture:
    """Something fixed on this side of the gantry, and the gap between them."""
    along = bool(side.vector.imag)
    block = complex(50, 52) + 30 * side.vector
    gap = [complex(50, 52) + reach * side.vector for reach in (8, 24)]
    ends = tuple((place.real, place.imag) for place in gap)
    size = 16.0 if along else 12.0
    return (
        *_BED,
        *(_ALONG if along else _UPRIGHT),
        box(block.real - size / 2, block.imag - size / 2, size, size, Role.GOOD),
        line(*ends, role=Role.DANGER, width=3.5),
    )


def _toothed(x: float) -> Picture:
    """A pulley with teeth."""
    around = ((17, 0), (-17, 0), (0, 17), (0, -17), (12, 12), (-12, -12), (12, -12), (-12, 12))
    return (Circle(centre=(x, 50), radius=14), *(box(x - 2.5 + dx, 47.5 + dy, 5, 5) for dx, dy in around))


_SHAFT: Picture = (box(8, 46, 84, 8, Role.QUIET),)
HELD: dict[HowHeld, Picture] = {
    HowHeld.CROSS_SHAFT: (
        *_SHAFT,
        Circle(centre=(20, 50), radius=16, width=5.0),
        Circle(centre=(80, 50), radius=16, width=5.0),
        box(44, 40, 14, 20),
        box(48, 58, 6, 12, Role.ACT),
    ),
    HowHeld.CROSS_SHAFT_TEETH: (*_SHAFT, *_toothed(20), *_toothed(80)),
    HowHeld.BELT_CLAMPS: (
        line((6, 34), (94, 34), width=4.0),
        *(box(x, 36, 4, 4) for x in range(8, 94, 8)),
        frame(36, 26, 28, 32, role=Role.ACT, line=4.0),
        Circle(centre=(50, 50), radius=4, role=Role.ACT),
        box(40, 62, 20, 26, Role.QUIET),
    ),
    HowHeld.SCREWS: (
        box(52, 20, 14, 62, Role.QUIET),
        box(14, 46, 60, 9),
        *(line((18 + 5 * n, 43), (21 + 5 * n, 58), role=Role.PAPER, width=1.6) for n in range(6)),
        box(6, 38, 10, 25, Role.ACT),
        box(42, 40, 8, 21),
    ),
    HowHeld.SHIMS: (
        box(14, 60, 72, 26, Role.QUIET),
        box(14, 12, 72, 26, Role.QUIET),
        *(box(22, 41 + 5 * n, 70, 3, Role.ACT) for n in range(4)),
    ),
    HowHeld.TWO_MOTORS_TWO_SWITCHES: (
        box(14, 48, 72, 9),
        box(4, 26, 22, 20),
        box(74, 26, 22, 20),
        frame(8, 70, 14, 12, role=Role.ACT, line=3.0),
        frame(78, 70, 14, 12, role=Role.ACT, line=3.0),
        line((8, 64), (22, 68), role=Role.ACT, width=3.0),
        line((78, 64), (92, 68), role=Role.ACT, width=3.0),
    ),
    HowHeld.TWO_MOTORS_ONE_SWITCH: (
        box(14, 48, 72, 9),
        box(4, 26, 22, 20),
        box(74, 26, 22, 20),
        frame(8, 70, 14, 12, role=Role.ACT, line=3.0),
        line((8, 64), (22, 68), role=Role.ACT, width=3.0),
        box(76, 62, 18, 20, Role.QUIET),
    ),
    HowHeld.RAILS: (
        box(16, 10, 9, 80),
        box(75, 10, 9, 80),
        *(Circle(centre=(x, y), radius=2.6, role=Role.PAPER) for x in (20.5, 79.5) for y in (20, 50, 80)),
        box(10, 52, 80, 8, Role.QUIET),
    ),
    HowHeld.NOT_ADJUSTABLE: (
        box(8, 44, 84, 14),
        box(8, 20, 14, 62),
        box(78, 20, 14, 62),
        Fill(points=((22, 58), (36, 58), (22, 72)), role=Role.QUIET),
        Fill(points=((78, 58), (64, 58), (78, 72)), role=Role.QUIET),
    ),
    HowHeld.NOT_SAID: (
        box(10, 44, 80, 10, Role.QUIET),
        line((40, 76), (50, 84), (60, 75), (50, 66), (50, 62), width=4.5),
        Circle(centre=(50, 57), radius=2.8),
    ),
}

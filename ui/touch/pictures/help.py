"""The one drawing that `?` shows of each screen: the thing that its three lines are about."""

from __future__ import annotations

from core.machine.directions import Side
from core.machine.holding import HowHeld
from ui.touch.pictures.machines import HELD, moving_ends
from ui.touch.pictures.questions import ASKED
from ui.touch.pictures.steps import COUPON_CUT, COUPON_MEASURED, gap_at
from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, arrow, box, frame, line

_LEANING: Picture = (
    line((20, 16), (72, 16), (84, 84), (32, 84), (20, 16), width=4.0),
    line((20, 16), (20, 84), (72, 84), role=Role.QUIET, width=2.0),
)
_STICK: Picture = (box(36, 8, 28, 34), frame(42, 42, 16, 14, line=4.0), box(45, 47, 3, 4), box(52, 47, 3, 4))
_SHEET: Picture = (frame(16, 10, 68, 80, line=3.5),)
_CALIPER: Picture = (
    box(8, 66, 84, 8),
    Fill(points=((12, 66), (22, 66), (22, 34))),
    Fill(points=((62, 66), (52, 66), (52, 34))),
    frame(46, 62, 34, 18, line=3.0),
)
_CABLE: Picture = (line((80, 71), (94, 71), (94, 14), (60, 14), role=Role.QUIET, width=3.0),)


def _lines(left: float, right: float, *heights: float, role: Role = Role.INK) -> Picture:
    return tuple(line((left, y), (right, y), role=role, width=3.0) for y in heights)


HELP_PICTURES: dict[str, Picture] = {
    "bench": COUPON_MEASURED,
    "menu": (
        *(box(x, 78, 24, 6) for x in (8, 38, 68)),
        *(frame(x, y, 24, 14) for x in (8, 38, 68) for y in (56, 36, 16)),
    ),
    "coupon": (
        frame(26, 34, 56, 44, line=4.0),
        line((33, 52), (33, 41), (43, 41), width=4.0),
        *arrow((54, 20), (82, 20), width=3.0),
        *arrow((54, 20), (26, 20), width=3.0),
        *arrow((12, 56), (12, 78), width=3.0),
        *arrow((12, 56), (12, 34), width=3.0),
    ),
    "limits": (
        box(40, 12, 20, 76, Role.GOOD),
        line((50, 6), (50, 94), role=Role.QUIET, width=2.0),
        line((40, 6), (40, 94), width=3.0),
        line((60, 6), (60, 94), width=3.0),
        Circle(centre=(54, 66), radius=4.0),
        Circle(centre=(74, 34), radius=4.0, role=Role.DANGER),
    ),
    "label": (*_SHEET, *_lines(26, 74, 76, 62, 48), line((26, 26), (34, 34), (42, 22), (52, 32), role=Role.ACT)),
    "verdict": (*_LEANING, Circle(centre=(80, 24), radius=12.0, role=Role.DANGER)),
    "numbers": (
        *_SHEET,
        *_lines(24, 48, 78, 64, 50, 36, 22),
        *_lines(56, 76, 64, 50, 36, 22, role=Role.QUIET),
        line((56, 78), (76, 78), role=Role.DANGER, width=5.0),
    ),
    "correct": moving_ends((Side.RIGHT,)),
    "witness": (*_LEANING, *ASKED),
    "causes": gap_at(Side.RIGHT, Side.FAR),
    "machine": HELD[HowHeld.SCREWS],
    "history": (
        box(10, 34, 80, 30, Role.QUIET),
        *(
            part
            for x, y in ((18, 50), (34, 44), (50, 54), (66, 48), (82, 78))
            for part in (line((x, y - 9), (x, y + 9), width=2.0), Circle(centre=(x, y), radius=4.0))
        ),
        line((10, 12), (90, 12), width=3.0),
    ),
    "bed": (
        frame(6, 14, 88, 76, role=Role.QUIET, line=2.5),
        box(6, 8, 88, 6),
        *(
            line((x, y), (x + 18, y), (x + 21, y + 22), (x + 3, y + 22), (x, y), width=3.0)
            for x in (12, 40, 68)
            for y in (24, 58)
        ),
    ),
    "download": (*_STICK, *arrow((50, 96), (50, 66), width=5.0)),
    "keep": (
        *_STICK,
        box(26, 74, 48, 16, Role.QUIET),
        *arrow((32, 72), (32, 56), width=3.0),
        *arrow((68, 56), (68, 72), width=3.0),
    ),
    "design": (
        line((10, 30), (42, 30), (50, 74), (18, 74), (10, 30), width=3.5),
        *arrow((52, 52), (64, 52), width=3.0),
        frame(66, 30, 28, 44, role=Role.GOOD, line=3.5),
    ),
    "instruments": (*_CALIPER, *_CABLE),
    "cable": (
        line((6, 50), (30, 50), width=5.0),
        box(30, 38, 20, 24),
        box(50, 42, 8, 4),
        box(50, 54, 8, 4),
        frame(66, 30, 26, 40, line=4.0),
        box(72, 42, 8, 4, Role.QUIET),
        box(72, 54, 8, 4, Role.QUIET),
    ),
    "check": (
        box(8, 72, 84, 8),
        Fill(points=((34, 72), (48, 72), (48, 36))),
        Fill(points=((66, 72), (52, 72), (52, 36))),
        box(20, 14, 8, 20, Role.QUIET),
        box(20, 14, 60, 8, Role.QUIET),
    ),
    "practice": (*COUPON_CUT, *ASKED),
    "setup": tuple(
        part
        for y, x in ((76, 64), (50, 30), (24, 52))
        for part in (line((12, y), (88, y)), box(x, y - 8, 8, 16, Role.ACT))
    ),
    "clock": (
        Circle(centre=(50, 50), radius=38.0, width=4.0),
        line((50, 50), (50, 76), width=5.0),
        line((50, 50), (68, 42), role=Role.ACT, width=5.0),
    ),
    "update": (*_STICK, *arrow((50, 62), (50, 94), width=5.0)),
}

"""The look: colours, shapes of the lamp, and the scale of everything on the screen. No widget in here.

Stage: screen. Input: window size, dark or light. Output: colours as (r, g, b, a) from 0 to 1, lengths in px.
Source: lamp colours by IEC 60073 (green normal, yellow abnormal, red danger, blue act now), shifted towards blue and
dark red so that they stay apart for colour-blind eyes; contrast by the formula of WCAG 2 (relative luminance).
The look is a workshop drawing: ink on paper, thin rules, values as dimensions.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.metrology import Verdict, lamp_of
from core.said import said

Colour = tuple[float, float, float, float]

# The screen is designed on this grid; every length in a kv file is a multiple of `scale`.
DESIGN_LONG_PX = 800.0
DESIGN_SHORT_PX = 480.0
# A gloved finger hits this on the smallest panel the design is made for: 7 inches, long side and short side as drawn on
# data sheets of such panels (from memory). Short sides are 480, 600 and 720 px, and the design scales with them.
TARGET_MM = 9.0
PANEL_MM = (154.0, 86.0)
TARGET_PX = math.ceil(TARGET_MM * DESIGN_SHORT_PX / PANEL_MM[1])
# Nothing is written smaller: capitals of Roboto are 0.71 em high, so 2.0 mm on that panel.
SMALLEST_TYPE_PX = 16.0
# How long a changed screen or panel is there before a touch counts: longer than a bounced finger or the second of two
# hasty taps, shorter than a person looks; common practice.
TOUCH_GUARD_S = 0.35


class Shape(StrEnum):
    """The lamp's shape: says the same as its colour and its word."""

    RING = "ring"  # no verdict
    DISC = "disc"  # go
    CROSSED_SQUARE = "crossed-square"  # no-go
    HALF_DIAMOND = "half-diamond"  # undecided
    SPLIT_DISC = "split-disc"  # the readings contradict each other


SHAPE_OF = {
    Verdict.GO: Shape.DISC,
    Verdict.NO_GO: Shape.CROSSED_SQUARE,
    Verdict.UNDECIDED: Shape.HALF_DIAMOND,
    Verdict.INCONSISTENT: Shape.SPLIT_DISC,
}


def shape_of(verdict: Verdict, settled: bool | None) -> Shape:
    """The shape of a word; `settled` is None where it was not kept."""
    return SHAPE_OF[lamp_of(verdict, settled)]


# The verdict's word as it is lettered to be read from afar: where a line has no room for it, it may be broken at the
# mark, which is not shown.
MAY_BREAK = "|"
LARGE_WORD = {
    Verdict.GO: said("GO"),
    Verdict.NO_GO: said("NO-GO"),
    Verdict.UNDECIDED: said("UNDE|CIDED"),
    Verdict.INCONSISTENT: said("INCON|SISTENT"),
}


class LampColours(Struct, frozen=True, kw_only=True):
    """A lit lamp: the area's fill, and what is written and drawn on it."""

    fill: Colour
    ink: Colour


class Palette(Struct, frozen=True, kw_only=True):
    """All colours of one theme. `ink`, `quiet`, `accent` and `failing` are written and drawn on `paper` and `panel`;
    `accent_ink` on `accent`. The fill of the lamp NO-GO is too dark a red for that on a dark panel."""

    paper: Colour
    panel: Colour
    ink: Colour
    quiet: Colour
    rule: Colour
    accent: Colour
    accent_ink: Colour
    failing: Colour
    zone: Colour
    fitted: Colour
    stamp: Colour
    lamps: tuple[tuple[Shape, LampColours], ...]

    def lamp(self, shape: Shape) -> LampColours:
        """The colours of the lamp with this shape."""
        return dict(self.lamps)[shape]


def rgb(text: str) -> Colour:
    """'#rrggbb' as a colour."""
    red, green, blue = (int(text[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return red, green, blue, 1.0


LIGHT = Palette(
    paper=rgb("#F8F5EC"),
    panel=rgb("#FFFFFF"),
    ink=rgb("#0E1C2B"),
    quiet=rgb("#4B5966"),
    rule=rgb("#A9B3BC"),
    accent=rgb("#0A4A94"),
    accent_ink=rgb("#FFFFFF"),
    failing=rgb("#A1132B"),
    zone=rgb("#BFE3DA"),
    fitted=rgb("#B3401E"),
    stamp=rgb("#8A1B57"),
    lamps=(
        (Shape.RING, LampColours(fill=rgb("#EEECE6"), ink=rgb("#4B5966"))),
        (Shape.DISC, LampColours(fill=rgb("#24A783"), ink=rgb("#06251B"))),
        (Shape.CROSSED_SQUARE, LampColours(fill=rgb("#A1132B"), ink=rgb("#FFFFFF"))),
        (Shape.HALF_DIAMOND, LampColours(fill=rgb("#F6C81F"), ink=rgb("#2A2100"))),
        (Shape.SPLIT_DISC, LampColours(fill=rgb("#1F4FC4"), ink=rgb("#FFFFFF"))),
    ),
)

DARK = Palette(
    paper=rgb("#0F161D"),
    panel=rgb("#1A242E"),
    ink=rgb("#F1EFE6"),
    quiet=rgb("#A9B6C1"),
    rule=rgb("#4A5966"),
    accent=rgb("#8CC4FF"),
    accent_ink=rgb("#06182B"),
    failing=rgb("#FF858A"),
    zone=rgb("#1E4A40"),
    fitted=rgb("#FF9A6B"),
    stamp=rgb("#FF9CCB"),
    lamps=(
        (Shape.RING, LampColours(fill=rgb("#26313B"), ink=rgb("#A9B6C1"))),
        (Shape.DISC, LampColours(fill=rgb("#3FC49A"), ink=rgb("#06251B"))),
        (Shape.CROSSED_SQUARE, LampColours(fill=rgb("#CC2030"), ink=rgb("#FFFFFF"))),
        (Shape.HALF_DIAMOND, LampColours(fill=rgb("#F6C81F"), ink=rgb("#2A2100"))),
        (Shape.SPLIT_DISC, LampColours(fill=rgb("#2F62E0"), ink=rgb("#FFFFFF"))),
    ),
)


def scale_for(width_px: float, height_px: float) -> float:
    """Px of the window per px of the design: the design fits either way up."""
    return min(max(width_px, height_px) / DESIGN_LONG_PX, min(width_px, height_px) / DESIGN_SHORT_PX)


def target_for(width_px: float, height_px: float) -> float:
    """Least side of a touch target, px of the window. A short panel has room to spare below the design: it is used."""
    short = height_px / DESIGN_SHORT_PX if width_px > height_px else 0.0
    return TARGET_PX * max(scale_for(width_px, height_px), short)

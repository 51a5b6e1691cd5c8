"""Reversal check: skew from two coupons of one cut file and a feeler leaf, or from one coupon and a pencil.

Stage: measuring without instruments. Input: the step between the coupons. Output: skew with its uncertainty.

Both coupons are cut one after the other on the same place. The second is turned over and laid on the first with a short
edge flush, so that the long edges start together and diverge: turning over turns the skew round, and at their other end
they show a step of `2 × length × tan(skew)`. With a fence and a pencil one coupon does: drawn along, turned over and
drawn along again, it leaves two lines that diverge alike, the first in the place of the lower coupon. The long edges
are the ones to look at: their step is the larger. Elementary geometry; 80 g/m² paper about 0.1 mm a sheet (common
practice).
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.errors import BadInputError
from core.geometry import Coupon
from core.machine.feelers import LEAF_STEP_MM, PAPER_MM
from core.metrology import Estimate, acute_corners
from core.said import Angle, Length, Said, said

# How well two edges can be laid flush by feeling and held so, standard deviation (common practice).
FLUSH_SD_MM = 0.03
LINE_MM = 0.2  # how well the gap of two lines of a sharp pencil is known (common practice)


class StepGauge(StrEnum):
    """What the step was found with; decides how finely it is known."""

    FEELER = "feeler"
    PAPER = "paper"
    LINES = "lines"  # the gap of two pencil lines, of one coupon drawn along a fence

    @property
    def step_mm(self) -> float:
        """The steps in which it counts."""
        return {StepGauge.FEELER: LEAF_STEP_MM, StepGauge.PAPER: PAPER_MM, StepGauge.LINES: LINE_MM}[self]


class Overhang(StrEnum):
    """Which coupon, or line, stands out at the end looked at; the lower one lies as it was cut."""

    LOWER = "lower"  # or the first line
    UPPER = "upper"  # or the second
    NONE = "none"


class ReversalCheck(Struct, frozen=True, kw_only=True):
    """Skew in degrees (positive: NL and FR acute), and whether a step was proven at all."""

    skew_deg: Estimate
    proven: bool
    text: Said


def reversal_check(length_mm: float, step_mm: float, overhang: Overhang, gauge: StepGauge) -> ReversalCheck:
    """Skew from the step found over `length_mm`, the length of the diverging edges (see `reversal_steps`).

    `step_mm` is what fits (a stack of leaves or sheets) where the edges are farthest apart.
    """
    if not length_mm > 0.0:
        raise BadInputError(said("edge of {length}: it must be longer than zero", length=Length(length_mm, None)))
    if not 0.0 <= step_mm < length_mm / 2.0:
        raise BadInputError(
            said(
                "step of {step}: it must lie between 0 and half the edge ({length})",
                step=Length(step_mm, None),
                length=Length(length_mm / 2.0, None),
            )
        )
    if overhang is Overhang.NONE and step_mm != 0.0:
        raise BadInputError(said("no overhang, but a step was given: say which coupon stands out"))
    sign = {Overhang.LOWER: 1.0, Overhang.UPPER: -1.0, Overhang.NONE: 0.0}[overhang]
    ratio = step_mm / (2.0 * length_mm)
    # The thickest stack that goes in is known to one step either way at worst: rectangular, half-width one step.
    u_step_mm = math.hypot(gauge.step_mm / math.sqrt(3.0), FLUSH_SD_MM)
    skew = Estimate(
        value=sign * math.degrees(math.atan(ratio)),
        u=math.degrees(u_step_mm / (2.0 * length_mm) / (1.0 + ratio * ratio)),
    )
    proven = abs(skew.value) > skew.U95
    return ReversalCheck(skew_deg=skew, proven=proven, text=_text(skew, proven))


def _text(skew: Estimate, proven: bool) -> Said:
    if not proven:
        return said("No skew is proven: it is less than {bound} either way.", bound=Angle(abs(skew.value) + skew.U95))
    return acute_corners(skew)


def reversal_steps(coupon: Coupon) -> tuple[Said, ...]:
    """What to do, for this coupon; the step is looked for over the longer side."""
    cut = (
        said("Cut two coupons one after the other from the same file, on the same place of the bed."),
        said("Power off before you reach for them."),
        said("Scrape the burr off; mind the edges, they are sharp."),
        said("Lay the first as it was cut, mark readable beside NL, near edge towards you."),
    )
    found = said("Find the thickest stack of feeler leaves, or sheets of paper, that fits into the step.")
    if coupon.width_mm >= coupon.height_mm:
        return (
            *cut,
            said("Turn the second over from the far edge towards you, and lay it on the first."),
            said(
                "Push the left edges of both flush against a straight edge, and the far edges together at their left "
                "end."
            ),
            said("Look at the right end of the far edges: does the lower or the upper coupon stand out?"),
            found,
        )
    return (
        *cut,
        said("Turn the second over like a page of a book, right to left, and lay it on the first."),
        said(
            "Push the near edges of both flush against a straight edge, and the right edges together at their near end."
        ),
        said("Look at the far end of the right edges: does the lower or the upper coupon stand out?"),
        found,
    )


def fence_steps(coupon: Coupon) -> tuple[Said, ...]:
    """What to do with one coupon, a straight fence on a board, paper below, and a sharp pencil."""
    begin = (
        said("Scrape the burr off; mind the edges, they are sharp."),
        said("Fix a straight edge on a flat board as a fence, with a sheet of paper before it that cannot slip."),
    )
    measured = said("Measure the gap between the two lines there.")
    if coupon.width_mm >= coupon.height_mm:
        return (
            *begin,
            said(
                "Lay the coupon with its mark readable beside NL, its left edge against the fence, and draw along its "
                "far edge."
            ),
            said("Turn it over from the far edge towards you, its left edge against the fence again."),
            said("Slide it until the new far edge meets the line at its left end, and draw along it."),
            said("At the right end: which line lies farther from you, the first or the second?"),
            measured,
        )
    return (
        *begin,
        said(
            "Lay the coupon with its mark readable beside NL, its near edge against the fence, and draw along its "
            "right edge."
        ),
        said("Turn it over like a page of a book, its near edge against the fence again."),
        said("Slide it until the new right edge meets the line at its near end, and draw along it."),
        said("At the far end: which line lies farther to the right, the first or the second?"),
        measured,
    )

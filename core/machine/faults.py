"""Faults a coupon can show, and what each usually comes from.

Stage: correction. Input: what the sizes point to. Output: findings with causes, the first suspect first. Causes are
common practice of machine fitters.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.metrology import Estimate, SizeCause, SizeFinding
from core.said import Part, Said, said


class Fault(StrEnum):
    """What can be wrong with a machine, as one coupon shows it."""

    SKEW = "skew"
    KERF = "kerf"
    SCALE = "scale"
    UNEQUAL_SCALE = "unequal-scale"
    X_TAPER = "x-taper"
    Y_TAPER = "y-taper"


class Standing(StrEnum):
    """What the evidence says of a fault."""

    PROVEN = "proven"
    NOT_PROVEN = "not-proven"
    OPEN = "open"  # the readings so far could hide one larger than its limit


class Finding(Struct, frozen=True, kw_only=True):
    """One fault. `amount` is in `unit` (skew in degrees, the others in mm or, for scales, as a share).

    `sds` is the amount in standard uncertainties. `causes` are what it usually comes from, the first suspect first.
    """

    fault: Fault
    standing: Standing
    amount: Estimate
    unit: str
    text: Part
    causes: tuple[Said, ...] = ()

    @property
    def sds(self) -> float:
        """Significance: the amount in standard uncertainties."""
        return abs(self.amount.value) / self.amount.u if self.amount.u else math.inf


def skew_causes(rails_are_set: bool) -> tuple[Said, ...]:
    """What a skew usually comes from."""
    return (
        said("the rails are not square to the gantry: knocked, or never set.")
        if rails_are_set
        else said(
            "the gantry is racked, one end ahead of the other: a coupling slipped, a belt jumped a tooth, a crash."
        ),
        said("the stops or home switches that square it at power-up stand unequal."),
    )


def taper_causes(along_travel: bool) -> tuple[Said, ...]:
    """Edges along the travel differ when the gantry turns while it travels; edges along the gantry hardly ever do."""
    if along_travel:
        return (
            said(
                "the gantry turns as it travels: the two sides are driven unequally (steps per mm, belt stretch, "
                "pulley)."
            ),
            said("the rails are not parallel or not straight."),
        )
    return (
        said(
            "seldom geometry: the coupon moved while it was cut, lost steps, or a lead-in scar where the jaws sat. "
            "Cut a second coupon before touching anything."
        ),
    )


def size_findings(sizes: SizeFinding) -> list[Finding]:
    """What the sizes point to, as findings; the sentence is that of the size finding."""
    found = []
    if sizes.cause is SizeCause.KERF and sizes.kerf_mm:
        found.append(_size(Fault.KERF, sizes.kerf_mm, "mm", sizes.text))
    elif sizes.cause is SizeCause.SCALE and sizes.scale_x:
        found.append(_size(Fault.SCALE, sizes.scale_x, "share", sizes.text))
    elif sizes.scale_x and sizes.scale_y:
        difference = Estimate(
            value=sizes.scale_x.value - sizes.scale_y.value, u=math.hypot(sizes.scale_x.u, sizes.scale_y.u)
        )
        unequal = abs(difference.value) > difference.U95
        if sizes.cause is SizeCause.UNEQUAL or unequal:
            found.append(_size(Fault.UNEQUAL_SCALE, difference, "share", sizes.text))
        else:
            found.append(_size(Fault.SCALE, sizes.scale_x, "share", sizes.text))
        if sizes.kerf_mm:
            found.append(_size(Fault.KERF, sizes.kerf_mm, "mm", sizes.text))
    return found


def _size(fault: Fault, amount: Estimate, unit: str, text: Part) -> Finding:
    proven = abs(amount.value) > amount.U95
    return Finding(
        fault=fault,
        standing=Standing.PROVEN if proven else Standing.NOT_PROVEN,
        amount=amount,
        unit=unit,
        text=text,
        causes=_SIZE_CAUSES[fault] if proven else (),
    )


_SIZE_CAUSES: dict[Fault, tuple[Said, ...]] = {
    Fault.KERF: (
        said("the width of the cut is not, or wrongly, allowed for in the file or the controller."),
        said("the tool is worn or not the size it is said to be; the beam is out of focus."),
    ),
    Fault.SCALE: (said("steps per mm of both axes, or heat or moisture in the sheet between cutting and measuring."),),
    Fault.UNEQUAL_SCALE: (
        said("steps per mm of one axis."),
        said("belt stretch, or a slack belt, on one axis."),
    ),
}

"""How a machine holds its gantry square: every kind with its words, its unit and what its least count is.

Stage: correction. Input: the kind from the machine profile. Output: words and rules for correction and guided steps.
Source: common practice of machine fitters; the machine's own manual prevails.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class HowHeld(StrEnum):
    """What keeps the gantry square to its travel, and so what has to be loosened or set."""

    CROSS_SHAFT = "cross-shaft"
    CROSS_SHAFT_TEETH = "cross-shaft-teeth"
    BELT_CLAMPS = "belt-clamps"
    SCREWS = "screws"
    SHIMS = "shims"
    TWO_MOTORS_TWO_SWITCHES = "two-motors-two-switches"
    TWO_MOTORS_ONE_SWITCH = "two-motors-one-switch"
    RAILS = "rails"
    NOT_ADJUSTABLE = "not-adjustable"
    NOT_SAID = "not-said"


class UnitKind(StrEnum):
    """The unit in which the adjuster itself counts."""

    TURN = "turn"
    TOOTH = "tooth"
    SHIM = "shim"
    STEP = "step"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """Words of one kind. `part` is what is turned: the gantry, or the rails under it.

    `{end}` in a sentence stands for the end to move.
    """

    label: str
    part: str
    unit: UnitKind
    loosen: str
    set_: str
    tighten: str


HOLDINGS: dict[HowHeld, Holding] = {
    HowHeld.CROSS_SHAFT: Holding(
        label="a cross shaft with a coupling or a clamped pulley",
        part="gantry",
        unit=UnitKind.NONE,
        loosen="Loosen the clamp of one coupling or pulley on the cross shaft, at the {end} end; leave the other side "
        "engaged.",
        set_="Slide the {end} end by hand until the meter stands at zero; the loosened shaft end slips in its clamp.",
        tighten="Tighten the clamp screws in turn, a little each.",
    ),
    HowHeld.CROSS_SHAFT_TEETH: Holding(
        label="a cross shaft whose pulleys cannot be loosened (whole teeth only)",
        part="gantry",
        unit=UnitKind.TOOTH,
        loosen="Slacken the belt of the {end} end until its teeth can be lifted over the pulley.",
        set_="Lift the belt of the {end} end over by the whole teeth named, and check with the gaps.",
        tighten="Tension the belt as it was before (compare both belts by their note).",
    ),
    HowHeld.BELT_CLAMPS: Holding(
        label="the belt clamps",
        part="gantry",
        unit=UnitKind.TOOTH,
        loosen="Loosen the belt clamp of the {end} end; mark the belt at the clamp's edge first.",
        set_="Move the {end} end until the meter stands at zero, letting the belt through its clamp.",
        tighten="Tighten the clamp screws in turn, and tension the belt as it was before (compare both belts by their "
        "note).",
    ),
    HowHeld.SCREWS: Holding(
        label="adjusting screws",
        part="gantry",
        unit=UnitKind.TURN,
        loosen="Loosen the lock nut of the adjusting screw at the {end} end, holding the screw still.",
        set_="Turn the screw at the {end} end until the meter stands at zero; come to it from the side that pushes, "
        "so that the slack is taken up.",
        tighten="Tighten the lock nut, holding the screw still.",
    ),
    HowHeld.SHIMS: Holding(
        label="shims",
        part="gantry",
        unit=UnitKind.SHIM,
        loosen="Loosen the fixing screws of the {end} end just far enough for a shim to slide in or out.",
        set_="Change the shims at the {end} end until the meter stands at zero.",
        tighten="Tighten the fixing screws crosswise, a little each.",
    ),
    HowHeld.TWO_MOTORS_TWO_SWITCHES: Holding(
        label="two motors with a home switch each (offset in the controller)",
        part="gantry",
        unit=UnitKind.STEP,
        loosen="Nothing is loosened: note the present squaring offset of the controller before you change it.",
        set_="Change the squaring offset of the {end} motor by the amount named, hands out of the machine, power on, "
        "home again, power off, and read both gaps: they prove the sign. If the meter moved away from zero, change the "
        "offset the other way, by twice the amount.",
        tighten="Store the offset in the controller, and home once more to see that it is kept.",
    ),
    HowHeld.TWO_MOTORS_ONE_SWITCH: Holding(
        label="two motors on one home switch (set against stops at every power-up)",
        part="gantry",
        unit=UnitKind.STEP,
        loosen="Nothing is loosened: with the motors off this position is lost at every power-off, and comes back from "
        "the stops only. The stop of the {end} end is what is set.",
        set_="Shift the stop of the {end} end by the amount named, push both ends against their stops, slowly and with "
        "the power off, and read both gaps.",
        tighten="Fix the stop; push the gantry against both stops once more, and read again.",
    ),
    HowHeld.RAILS: Holding(
        label="the rails or the bed (fixed or rigid gantry)",
        part="rails",
        unit=UnitKind.NONE,
        loosen="Loosen the fixing screws of the rails except the one next to the end that stays; both rails are turned "
        "together, so keep them parallel.",
        set_="Move the {end} end of the rails until the meter stands at zero.",
        tighten="Tighten the fixing screws from the end that stays to the end that moved, a little each, and check "
        "that the travel still runs freely.",
    ),
    HowHeld.NOT_ADJUSTABLE: Holding(
        label="nothing that can be adjusted",
        part="gantry",
        unit=UnitKind.NONE,
        loosen="Nothing can be loosened on this machine: correct the design file instead.",
        set_="Correct the design file by the inverse of what the coupon shows.",
        tighten="Cut the corrected coupon to prove it.",
    ),
    HowHeld.NOT_SAID: Holding(
        label="not said",
        part="gantry",
        unit=UnitKind.NONE,
        loosen="Loosen what holds the {end} end, as the machine's manual says, and nothing else.",
        set_="Move the {end} end until the meter stands at zero.",
        tighten="Tighten again as the machine's manual says, a little on each screw in turn.",
    ),
}

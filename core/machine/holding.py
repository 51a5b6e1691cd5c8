"""How a machine holds its gantry square: every kind with its words, its unit and what its least count is.

Stage: correction. Input: the kind from the machine profile. Output: words and rules for correction and guided steps;
the steps themselves, with the state of power in each, stand in `procedure`.
Source: common practice of machine fitters; the machine's own manual prevails.
"""

from collections.abc import Callable
from enum import StrEnum
from typing import TypeAlias

from msgspec import Struct

from core.said import Said, said


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


class TurnedPart(StrEnum):
    """What is turned to make the machine square."""

    GANTRY = "gantry"
    RAILS = "rails"

    @property
    def word(self) -> Said:
        """The word in a sentence."""
        return said("gantry") if self is TurnedPart.GANTRY else said("rails")


# A sentence about the end to move, whose word is given.
AtEnd: TypeAlias = Callable[[Said], Said]


class Holding(Struct, frozen=True, kw_only=True):
    """Words of one kind. `part` is what is turned: the gantry, or the rails under it.

    `loosen`, `set_` and `tighten` are said of one end; None where nothing is loosened by hand.
    """

    label: Said
    loosen: AtEnd | None = None
    set_: AtEnd | None = None
    tighten: AtEnd | None = None
    part: TurnedPart = TurnedPart.GANTRY
    unit: UnitKind = UnitKind.NONE


HOLDINGS: dict[HowHeld, Holding] = {
    HowHeld.CROSS_SHAFT: Holding(
        label=said("a cross shaft with a coupling or a clamped pulley"),
        loosen=lambda end: said(
            "Loosen the clamp of one coupling or pulley on the cross shaft, at the {end} end; leave the other side "
            "engaged.",
            end=end,
        ),
        set_=lambda end: said(
            "Slide the {end} end by hand until the meter stands at zero; the loosened shaft end slips in its clamp.",
            end=end,
        ),
        tighten=lambda _: said("Tighten the clamp screws in turn, a little each."),
    ),
    HowHeld.CROSS_SHAFT_TEETH: Holding(
        label=said("a cross shaft whose pulleys cannot be loosened (whole teeth only)"),
        unit=UnitKind.TOOTH,
        loosen=lambda end: said(
            "Slacken the belt of the {end} end until its teeth can be lifted over the pulley.", end=end
        ),
        set_=lambda end: said(
            "Lift the belt of the {end} end over by the whole teeth named, and check with the gaps.", end=end
        ),
        tighten=lambda _: said("Tension the belt as it was before (compare both belts by their note)."),
    ),
    HowHeld.BELT_CLAMPS: Holding(
        label=said("the belt clamps"),
        unit=UnitKind.TOOTH,
        loosen=lambda end: said(
            "Mark the belt at the edge of its clamp, then loosen the belt clamp of the {end} end.", end=end
        ),
        set_=lambda end: said(
            "Move the {end} end until the meter stands at zero, letting the belt through its clamp.", end=end
        ),
        tighten=lambda _: said(
            "Tighten the clamp screws in turn, and tension the belt as it was before (compare both belts by their "
            "note)."
        ),
    ),
    HowHeld.SCREWS: Holding(
        label=said("adjusting screws"),
        unit=UnitKind.TURN,
        loosen=lambda end: said(
            "Loosen the lock nut of the adjusting screw at the {end} end, holding the screw still.", end=end
        ),
        set_=lambda end: said(
            "Turn the screw at the {end} end until the meter stands at zero; come to it from the side that pushes, "
            "so that the slack is taken up.",
            end=end,
        ),
        tighten=lambda _: said("Tighten the lock nut, holding the screw still."),
    ),
    HowHeld.SHIMS: Holding(
        label=said("shims"),
        unit=UnitKind.SHIM,
        loosen=lambda end: said(
            "Loosen the fixing screws of the {end} end just far enough for a shim to slide in or out.", end=end
        ),
        set_=lambda end: said("Change the shims at the {end} end until the meter stands at zero.", end=end),
        tighten=lambda _: said("Tighten the fixing screws crosswise, a little each."),
    ),
    HowHeld.TWO_MOTORS_TWO_SWITCHES: Holding(
        label=said("two motors with a home switch each (offset in the controller)"),
        unit=UnitKind.STEP,
    ),
    HowHeld.TWO_MOTORS_ONE_SWITCH: Holding(
        label=said("two motors on one home switch (set against stops at every power-up)"),
        unit=UnitKind.STEP,
        loosen=lambda end: said(
            "Loosen the stop of the {end} end, and nothing else: the gantry takes its position from the stops.", end=end
        ),
        set_=lambda end: said(
            "Shift the stop of the {end} end until the meter stands at zero, both ends pushed slowly against their "
            "stops.",
            end=end,
        ),
        tighten=lambda end: said("Fix the stop of the {end} end.", end=end),
    ),
    HowHeld.RAILS: Holding(
        label=said("the rails or the bed (fixed or rigid gantry)"),
        part=TurnedPart.RAILS,
        loosen=lambda _: said(
            "Loosen the fixing screws of the rails except the one next to the end that stays; both rails are turned "
            "together, so keep them parallel."
        ),
        set_=lambda end: said("Move the {end} end of the rails until the meter stands at zero.", end=end),
        tighten=lambda _: said(
            "Tighten the fixing screws from the end that stays to the end that moved, a little each, and check "
            "that the travel still runs freely."
        ),
    ),
    HowHeld.NOT_ADJUSTABLE: Holding(
        label=said("nothing that can be adjusted"),
    ),
    HowHeld.NOT_SAID: Holding(
        label=said("not said"),
        loosen=lambda end: said(
            "Loosen what holds the {end} end, as the machine's manual says, and nothing else. Do two motors drive the "
            "gantry? Then give this up and describe the machine first: it is set in another way.",
            end=end,
        ),
        set_=lambda end: said("Move the {end} end until the meter stands at zero.", end=end),
        tighten=lambda _: said("Tighten again as the machine's manual says, a little on each screw in turn."),
    ),
}

"""The sentences beside a move: what it means in the adjuster's own units, in feelers, on the person's part.

Stage: correction. Input: a move and what the adjuster can make of it. Output: sentences, `NOTHING` where there is
nothing to say. The move itself, with its caution, is worded by `move_order`.
"""

from core.machine.directions import Side
from core.machine.feelers import MOST_SHEETS, FeelerStack
from core.machine.holding import HowHeld, UnitKind
from core.machine.move import move_of_skew
from core.machine.profile import TURN_DIVISIONS, MachineProfile
from core.metrology import Estimate
from core.said import NOTHING, Angle, Length, Number, Said, said, said_counted

WORTH_A_WORD_MM = 0.02
PART_SIDE_MM = 400.0  # the side on which a skew is shown when nobody said how long the parts are


def part_side_mm(profile: MachineProfile | None) -> float:
    """The side on which a skew is shown for this machine's person."""
    return PART_SIDE_MM if profile is None or profile.part_side_mm is None else profile.part_side_mm


def part_sentence(skew_deg: Estimate | None, side_mm: float) -> Said:
    """What the skew does to the person's own part; empty where no skew may be told."""
    if skew_deg is None:
        return NOTHING
    off_mm = move_of_skew(skew_deg, side_mm)
    return said(
        "On a side of {side} the skew is {off}.", side=Length(side_mm, None), off=Length(off_mm.value, u_mm=off_mm.U95)
    )


def own_units_sentence(move_mm: float, settable_mm: float, end: Side, profile: MachineProfile) -> Said:
    """The move in the unit the adjuster counts in; nothing where it has none or it is not known."""
    unit_mm = profile.unit_mm
    if unit_mm is None:
        return NOTHING
    units, unit = Number(move_mm / unit_mm, 2), Length(unit_mm, None)
    match profile.holding.unit:
        case UnitKind.TURN:
            turns, twelfths = divmod(round(settable_mm / unit_mm * TURN_DIVISIONS), TURN_DIVISIONS)
            whole = said_counted(
                "{count} turn and {twelfths}/12", "{count} turns and {twelfths}/12", count=turns, twelfths=twelfths
            )
            return said(
                "That is {units} turns of the screw (pitch {unit}); to the nearest twelfth, {whole}.",
                units=units,
                unit=unit,
                whole=whole,
            )
        case UnitKind.TOOTH:
            return said(
                "That is {units} teeth of the belt (pitch {unit}); only whole teeth can be moved: {teeth}, {settable}.",
                units=units,
                unit=unit,
                teeth=said_counted("{count} tooth", "{count} teeth", count=round(settable_mm / unit_mm)),
                settable=Length(settable_mm),
            )
        case UnitKind.SHIM:
            return said("In shims of {unit}: {settable} in all.", unit=unit, settable=Length(settable_mm))
        case UnitKind.STEP:
            steps = said_counted("{count} step", "{count} steps", count=round(settable_mm / unit_mm))
            if profile.held is HowHeld.TWO_MOTORS_TWO_SWITCHES:
                return said(
                    "That is {steps} of the {end} motor, {settable}, in the controller's offset between the home "
                    "switches.",
                    steps=steps,
                    end=end.word,
                    settable=Length(settable_mm, 3),
                )
            return said(
                "That is {steps} of the {end} motor, {settable}.",
                steps=steps,
                end=end.word,
                settable=Length(settable_mm, 3),
            )
        case UnitKind.NONE:
            return NOTHING


def stack_sentence(leaves: FeelerStack | None, sheets: int) -> Said:
    """The move as feeler leaves and as sheets of paper; nothing where one set cannot make it up."""
    if leaves is None or not leaves.leaves_mm or not leaves.handy:
        return NOTHING
    if not 0 < sheets <= MOST_SHEETS:
        return said("In feelers: {leaves}.", leaves=leaves.text)
    return said_counted(
        "In feelers: {leaves}, or about {count} sheet of office paper.",
        "In feelers: {leaves}, or about {count} sheets of office paper.",
        count=sheets,
        leaves=leaves.text,
    )


def least_count_sentence(over_mm: float, over_skew_deg: float, profile: MachineProfile) -> Said:
    """What the adjuster's least count cannot take out; nothing where that is not worth a word."""
    if profile.least_count_mm is None or abs(over_mm) < WORTH_A_WORD_MM:
        return NOTHING
    return said(
        "The adjuster's least count cannot take out {over} over the span, a skew of {skew}.",
        over=Length(abs(over_mm)),
        skew=Angle(over_skew_deg, 3, signed=True),
    )


def controller_sentence(profile: MachineProfile) -> Said:
    """The warning where squareness is compensated in the controller."""
    if not profile.controller_skew_set:
        return NOTHING
    return said(
        "A squareness compensation is set in the controller, and the coupon was cut with it: leave it as it is and "
        "move the gantry, or change it and leave the gantry; never both."
    )

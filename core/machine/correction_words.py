"""The sentences of a correction, for the person at the machine.

Stage: correction. Input: a move and what the adjuster can make of it. Output: sentences, empty where there is nothing
to say. The main one names end, amount and direction in a fixed order: it is what gets done.
"""

from __future__ import annotations

from core.machine.directions import Direction, Side
from core.machine.feelers import MOST_SHEETS, FeelerStack
from core.machine.holding import HowHeld, UnitKind
from core.machine.move import move_of_skew
from core.machine.profile import TURN_DIVISIONS, MachineProfile
from core.metrology.adjustment import Estimate

WORTH_A_WORD_MM = 0.02
PART_SIDE_MM = 400.0  # the side on which a skew is shown when nobody said how long the parts are


def part_side_mm(profile: MachineProfile | None) -> float:
    """The side on which a skew is shown for this machine's person."""
    return PART_SIDE_MM if profile is None or profile.part_side_mm is None else profile.part_side_mm


def part_sentence(skew_deg: Estimate, side_mm: float) -> str:
    """What the skew does to the person's own part."""
    off_mm = move_of_skew(skew_deg, side_mm)
    return f"On a side of {side_mm:g} mm the skew is {off_mm.value:.2f} ± {off_mm.U95:.2f} mm."


def main_sentence(move_mm: Estimate, end: Side, direction: Direction, profile: MachineProfile) -> str:
    """End, direction and amount, as the person at the front does it."""
    part = profile.holding.part
    front = f" (the front is {profile.front_words})" if profile.front_words else ""
    both = len(profile.can_move) == 2
    other = f", or the {end.opposite} end {direction.opposite.words} by as much" if both else ""
    return (
        f"Standing at the front{front}, move the {end} end of the {part} by {move_mm.value:.2f} ± {move_mm.U95:.2f} mm "
        f"{direction.words}{other}."
    )


def own_units_sentence(move_mm: float, settable_mm: float, end: Side, profile: MachineProfile) -> str:
    """The move in the unit the adjuster counts in; empty where it has none or it is not known."""
    unit_mm = profile.unit_mm
    if unit_mm is None:
        return ""
    units = move_mm / unit_mm
    match profile.holding.unit:
        case UnitKind.TURN:
            turns, twelfths = divmod(round(settable_mm / unit_mm * TURN_DIVISIONS), TURN_DIVISIONS)
            return (
                f"That is {units:.2f} turns of the screw (pitch {unit_mm:g} mm); to the nearest twelfth, "
                f"{turns} {_noun('turn', turns)} and {twelfths}/12."
            )
        case UnitKind.TOOTH:
            teeth = round(settable_mm / unit_mm)
            return (
                f"That is {units:.2f} teeth of the belt (pitch {unit_mm:g} mm); only whole teeth can be moved: {teeth} "
                f"{'tooth' if teeth == 1 else 'teeth'}, {settable_mm:.2f} mm."
            )
        case UnitKind.SHIM:
            return f"In shims of {unit_mm:g} mm: {settable_mm:.2f} mm in all."
        case UnitKind.STEP:
            steps = round(settable_mm / unit_mm)
            offset = " in the controller's squaring offset" if profile.held is HowHeld.TWO_MOTORS_TWO_SWITCHES else ""
            return f"That is {steps} {_noun('step', steps)} of the {end} motor, {settable_mm:.3f} mm{offset}."
        case UnitKind.NONE:
            return ""


def _noun(noun: str, count: int) -> str:
    return noun if count == 1 else f"{noun}s"


def stack_sentence(leaves: FeelerStack | None, sheets: int) -> str:
    """The move as feeler leaves and as sheets of paper; empty where one set cannot make it up."""
    if leaves is None or not leaves.leaves_mm or not leaves.handy:
        return ""
    paper = f", or about {sheets} {_noun('sheet', sheets)} of office paper" if 0 < sheets <= MOST_SHEETS else ""
    return f"In feelers: {leaves.text} mm{paper}."


def left_sentence(left_mm: float, left_skew_deg: float, profile: MachineProfile) -> str:
    """What the least count leaves; empty where it leaves nothing worth a word."""
    if profile.least_count_mm is None or abs(left_mm) < WORTH_A_WORD_MM:
        return ""
    return (
        f"The adjuster's least count leaves {abs(left_mm):.2f} mm over the span, "
        f"a skew of {left_skew_deg:+.3f} degrees."
    )


def controller_sentence(profile: MachineProfile) -> str:
    """The warning where a skew factor is set in the controller."""
    if not profile.controller_skew_set:
        return ""
    return (
        "A skew factor is set in the controller, and the coupon was cut with it: leave the factor as it is and move "
        "the gantry, or change the factor and leave the gantry; never both."
    )

"""The ways beside the guided correction in which hands go into the machine, each with its cautions.

Stage: correction. Input: the way. Output: sentences in their order, caution first; the same on the screen, in the text
bench and at a command's prompt. Common practice; the maker's instructions prevail.
"""

from core.machine.cautions import BY_HAND
from core.machine.holding import HowHeld
from core.said import NOTHING, Said, said

# Motors that are off hold nothing: gaps mean something only after homing, or against the stops.
_MOTORS = {
    HowHeld.TWO_MOTORS_TWO_SWITCHES: said(
        "Two motors: home it first, hands out, then power off and unplug; only then read the gaps, touching nothing."
    ),
    HowHeld.TWO_MOTORS_ONE_SWITCH: said(
        "Two motors: push both ends slowly against their stops, power off and unplugged; then read the gaps."
    ),
}


def before_two_gaps(held: HowHeld) -> tuple[Said, ...]:
    """What is said before two gaps are read beside a correction."""
    return (BY_HAND, _MOTORS.get(held, NOTHING), _UNTOUCHED)


_UNTOUCHED = said("Gantry untouched: read the gaps at both ends before anything is moved.")


def coarse_reset() -> tuple[Said, ...]:
    """How a machine far out is squared to its frame, and what that is good for."""
    return (
        BY_HAND,
        said(
            "For a machine far out: push both ends slowly against their stops, or against equal blocks, or make both "
            "gaps equal, power still off. Motors that are pushed generate."
        ),
        said("Take blocks and tools out again before the power comes back: a homing run would hit them."),
        said(
            "It squares the gantry to its frame, not to its travel, and the coupon's number is void. Log here that "
            "you did it, then cut and measure another."
        ),
    )


def before_plucking() -> tuple[Said, ...]:
    """What is said before belts are plucked by hand."""
    return (
        BY_HAND,
        said("Pluck equal spans of both belts, the microphone close to them, fingers clear of the pulleys."),
    )

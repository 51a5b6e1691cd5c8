"""From a live indication to a decision: which feature it is meant for, and to take it, ask first, or refuse. Pure.

Input: an indication. Output: the feature at its cursor; Take, Ask or Refuse with the reason. A cursor that the person
set stays until its reading is in; otherwise it follows the next reading that the evaluation asks for, and then the
plain order: diagonals, edges, corners, the window where the coupon has one.
"""

from collections.abc import Collection

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import CORNERS, DIAGONALS, EDGES, WINDOW, Coupon, Feature, Seats
from core.metrology import (
    MM_PER_INCH,
    Adjustment,
    NextReading,
    Quantity,
    better_fit,
    is_inch_for_mm,
    is_plausible,
    plausible_range,
)
from core.records import QUESTION_SEATS, SeatsSeen
from core.said import Angle, Length, Number, Part, said
from ui.state import Question

# Names of the questions and of their answers; the words on the buttons may change, these may not.
WHICH_FEATURE = "which-feature"
MEANT_INCHES = "meant-inches"
TAKE_HERE, TAKE_THERE, CONVERT, DROP = "take-here", "take-there", "convert", "drop"
DEVIATION_REACH_DEG = 10.0


class Take(Struct, frozen=True, kw_only=True):
    """Accept the value (mm or degrees) for the feature."""

    feature: Feature
    value: float


class Ask(Struct, frozen=True, kw_only=True):
    """Ask before accepting; `alternative` is what the other choice would take."""

    question: Question
    here: Take
    alternative: Take


class Refuse(Struct, frozen=True, kw_only=True):
    """Do not accept, with the reason for the person."""

    text: Part


def decide(
    coupon: Coupon,
    feature: Feature,
    value: float,
    taken: Collection[Feature],
    adjustment: Adjustment | None,
) -> Take | Ask | Refuse:
    """What to do with a value proposed for a feature."""
    here = Take(feature=feature, value=value)
    others = [other for other in coupon.features if other not in taken]
    if (there := better_fit(coupon, feature, value, others, adjustment)) is not None:
        question = Question(
            name=WHICH_FEATURE,
            text=said(
                "{value} looks like the {other}, not the {asked}. Which is it?",
                value=feature.measured(value),
                other=there.label,
                asked=feature.label,
            ),
            choices=((TAKE_THERE, there.label), (TAKE_HERE, feature.label), (DROP, said("Neither"))),
            feature=feature,
            value=value,
        )
        return Ask(question=question, here=here, alternative=Take(feature=there, value=value))
    if (seats := _asked_for_seats(coupon, here, taken)) is not None:
        return seats
    if is_plausible(coupon, feature, value):
        return here
    if is_inch_for_mm(coupon, feature, value):
        converted_mm = value * MM_PER_INCH
        question = Question(
            name=MEANT_INCHES,
            text=said(
                "{shown} cannot be the {feature} in mm. In inches it is {length}. Meant so?",
                shown=Number(value),
                feature=feature.label,
                length=Length(converted_mm),
            ),
            choices=((CONVERT, said("Inches")), (DROP, said("No, drop it"))),
            feature=feature,
            value=value,
        )
        return Ask(question=question, here=here, alternative=Take(feature=feature, value=converted_mm))
    return Refuse(text=_refusal(coupon, feature, value))


def _asked_for_seats(coupon: Coupon, here: Take, taken: Collection[Feature]) -> Ask | None:
    """A first diagonal that fits this coupon with other seats, or without: is it the one that was chosen?"""
    feature = here.feature
    if feature not in DIAGONALS or any(diagonal in taken for diagonal in DIAGONALS):
        return None

    def fits(seats: Seats | None) -> bool:
        return abs(here.value - replace(coupon, seats=seats).nominal(feature)) <= _FITS_MM

    kinds = [(kind, kind.of(coupon)) for kind in SeatsSeen]
    if fits(coupon.seats) or not any(fits(seats) for _, seats in kinds):
        return None
    # As it was chosen, only where the reading can belong to such a coupon at all.
    offered = [kind for kind, seats in kinds if seats != coupon.seats or is_plausible(coupon, feature, here.value)]
    present = next((kind for kind, seats in kinds if seats == coupon.seats), None)
    question = Question(
        name=QUESTION_SEATS,
        text=said(
            "{value} does not fit the coupon that was chosen. What do its corners look like?",
            value=feature.measured(here.value),
        ),
        choices=(
            *((TAKE_HERE if kind is present else kind.value, _SEAT_WORDS[kind]) for kind in offered),
            (DROP, said("Drop it")),
        ),
        feature=feature,
        value=here.value,
    )
    return Ask(question=question, here=here, alternative=here)


_FITS_MM = 1.5  # no machine is so far out, and no two kinds of seats are so near to one another
_SEAT_WORDS = {
    SeatsSeen.KEYED: said("Seats of two widths"),
    SeatsSeen.EQUAL: said("Seats, all alike"),
    SeatsSeen.NONE: said("No seats"),
}


def _refusal(coupon: Coupon, feature: Feature, value: float) -> Part:
    low, high = (feature.measured(bound) for bound in plausible_range(coupon, feature))
    if not feature.is_length and abs(value) <= DEVIATION_REACH_DEG:
        return said(
            "{value} is a deviation: set the gauge to show the whole corner, about {whole}, and read again.",
            value=Angle(value, None),
            whole=Angle(90.0, 0),
        )
    return said(
        "{value} cannot be the {feature}: between {low} and {high} is possible. Not taken.",
        value=feature.measured(value),
        feature=feature.label,
        low=low,
        high=high,
    )


PLAIN_ORDER = DIAGONALS + EDGES + CORNERS + WINDOW


def cursor(
    coupon: Coupon,
    quantity: Quantity,
    chosen: Feature | None,
    asked: NextReading | None,
    taken: Collection[Feature],
) -> Feature | None:
    """The feature an indication of this quantity belongs to now; None when all are read and none is asked again."""
    is_length = quantity is Quantity.LENGTH
    if chosen is not None and chosen.is_length is is_length:
        return chosen
    if asked is not None and asked.feature.is_length is is_length:
        return asked.feature
    left = (feature for feature in PLAIN_ORDER if feature not in taken and coupon.has(feature))
    return next((feature for feature in left if feature.is_length is is_length), None)

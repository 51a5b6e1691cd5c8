"""One cursor as the bench shows it: its feature, the indication in fixed digits, its own go or no-go.

Stage: screen. Input: Live and Snapshot. Output: LiveCursor. Units mm and degrees. No widget in here.
"""

import math
from functools import lru_cache

from msgspec import Struct

from core.geometry import Coupon, Feature
from core.metrology import VERDICT_WORD, LiveState, Quantity, Verdict, square_value
from core.said import NOTHING, Part
from ui.pages.theme import SHAPE_OF, Shape
from ui.speech import LengthUnit, Notation
from ui.state import Live, Snapshot

# Only once the jaws have come near, and where there is a limit.
_VERDICT = {
    LiveState.INSIDE: Verdict.GO,
    LiveState.NEAR_LIMIT: Verdict.UNDECIDED,
    LiveState.OUTSIDE: Verdict.NO_GO,
}


class LiveCursor(Struct, frozen=True, kw_only=True):
    """One cursor: its feature, the indication, and its own go or no-go, which says nothing before the jaws have come
    near. `figures` digits must have room beside the point, `unit` is written behind them; `deviation` is in mm or
    degrees, None when there is nothing to draw."""

    quantity: Quantity
    feature: Feature | None
    digits: str
    figures: int
    unit: str
    shape: Shape
    word: Part
    hold_fraction: float
    takeable: bool
    deviation: float | None
    limit: float | None


def live_cursor(live: Live, snapshot: Snapshot) -> LiveCursor:
    """One cursor with its indication."""
    feature, coupon, notation = live.feature, snapshot.coupon, snapshot.settings.notation
    verdict = _VERDICT.get(live.state)
    decimals, figures, unit = _writing(live.quantity, notation, coupon, _resolution(live, snapshot))
    fresh = live.value is not None and live.state not in (LiveState.ABSENT, LiveState.STALE)
    deviation = None
    if fresh and feature is not None and coupon is not None and live.state is not LiveState.FAR:
        assert live.value is not None
        fit = snapshot.evaluation.adjustment if snapshot.evaluation else None
        deviation = live.value - square_value(coupon, feature, fit)
    return LiveCursor(
        quantity=live.quantity,
        feature=feature,
        digits=digits_text(live, decimals, notation) if fresh else dashes(live.quantity, decimals, notation),
        figures=figures,
        unit=unit,
        shape=SHAPE_OF[verdict] if verdict else Shape.RING,
        word=VERDICT_WORD[verdict] if verdict else NOTHING,
        hold_fraction=live.hold_fraction if fresh else 0.0,
        takeable=fresh and feature is not None and snapshot.pending is None and not snapshot.closed,
        deviation=deviation,
        limit=live.limit,
    )


def decimals_of(live: Live, snapshot: Snapshot) -> int:
    """As many as the instrument resolves: cables send more than that, and zeros that mean nothing only hurry by."""
    return _decimals(_resolution(live, snapshot))


def _resolution(live: Live, snapshot: Snapshot) -> float:
    setup = snapshot.setup
    return (setup.caliper if live.quantity is Quantity.LENGTH else setup.gauge).resolution


@lru_cache(maxsize=16)
def _writing(quantity: Quantity, notation: Notation, coupon: Coupon | None, resolution: float) -> tuple[int, int, str]:
    """Decimals, figures and unit of what is written, the same for every indication of a coupon."""
    decimals = _decimals(resolution)
    figures = _figures(quantity, notation, coupon.diagonal_mm if coupon else 180.0, decimals)
    return decimals, figures, f" {notation.length_sign}" if quantity is Quantity.LENGTH else notation.angle_sign


def _decimals(resolution: float) -> int:
    return min(3, max(0, math.ceil(-math.log10(resolution)))) if resolution > 0.0 else 2


def digits_text(live: Live, decimals: int, notation: Notation) -> str:
    """The indication's digits with a true minus; a length without its unit, an angle as its notation has it."""
    assert live.value is not None
    if live.quantity is Quantity.LENGTH:
        return notation.length_digits(live.value, decimals)
    return notation.angle(live.value, decimals).removesuffix("°")


def dashes(quantity: Quantity, decimals: int, notation: Notation) -> str:
    """What stands in the place of digits while there is no indication."""
    if quantity is Quantity.LENGTH:
        pattern = notation.length_digits(111.0 if notation.lengths is LengthUnit.MM else 25.4, decimals)
    else:
        pattern = notation.angle(11.0, decimals).removesuffix("°")
    return "".join("–" if letter.isdigit() else letter for letter in pattern)


def _figures(quantity: Quantity, notation: Notation, largest_mm: float, decimals: int) -> int:
    """How many digits must have room, so that the place of the point never changes within a session."""
    if quantity is Quantity.ANGLE:
        # The signs of degrees and minutes take the room of one figure more.
        dms = not notation.angle_sign
        return sum(letter.isdigit() for letter in notation.angle(180.0, decimals)) + dms
    whole = len(notation.length_digits(largest_mm, 0).partition(notation.entry("."))[0])
    return max(3 if notation.lengths is LengthUnit.MM else 1, whole) + notation.length_places(decimals)

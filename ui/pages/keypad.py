"""A number as it is keyed in: pure steps from one frozen entry to the next, and what to say about it.

Stage: keypad. Input: keys, the feature it is meant for. Output: the number, or why it is not one yet. Units as chosen.
"""

import math

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import Coupon, Feature
from core.metrology import Unit, is_inch_for_mm, is_plausible, plausible_range
from core.said import NOTHING, Part, said

MAX_FIGURES = 7
BACKSPACE = "back"


class Entry(Struct, frozen=True, kw_only=True):
    """What has been keyed in so far: figures, at most one point, and the unit they mean."""

    unit: Unit
    text: str = ""

    @property
    def shown(self) -> float | None:
        """The number in `unit`; None while there is none."""
        return float(self.text) if any(figure.isdigit() for figure in self.text) else None

    @property
    def value(self) -> float | None:
        """The number in mm or degrees."""
        return None if self.shown is None else self.unit.to_internal(self.shown)


def press(entry: Entry, key: str) -> Entry:
    """The entry after a key: a figure, '.' or BACKSPACE; a key that would make no number changes nothing."""
    text = entry.text
    if key == BACKSPACE:
        return replace(entry, text=text[:-1])
    if key == "." and "." in text:
        return entry
    if sum(figure.isdigit() for figure in text) >= MAX_FIGURES:
        return entry
    return replace(entry, text=text + key)


def remark(entry: Entry, coupon: Coupon, feature: Feature) -> Part:
    """What to say about the number before it is taken; empty when it fits the feature."""
    low, high = (feature.measured(value) for value in plausible_range(coupon, feature))
    if entry.value is None:
        return said("Expected between {low} and {high}.", low=low, high=high)
    if is_plausible(coupon, feature, entry.value):
        return NOTHING
    if entry.unit is Unit.MM and is_inch_for_mm(coupon, feature, entry.value):
        return said("That fits if it means inches: change the unit.")
    return said("Far from this feature ({low} to {high}): look again.", low=low, high=high)


def starts(coupon: Coupon, feature: Feature, unit: Unit) -> tuple[str, str]:
    """What two keys begin a number with, so that few figures are left to key in: the whole millimetres or degrees (the
    hundredths of an inch) below nominal and above it."""
    places = 2 if unit is Unit.INCH else 0
    nominal = coupon.nominal(feature) / unit.to_internal(1.0) * 10**places
    below = math.ceil(round(nominal, 6)) - 1
    low, high = (f"{step / 10**places:.{places}f}" for step in (below, below + 1))
    return (low, high) if places else (f"{low}.", f"{high}.")

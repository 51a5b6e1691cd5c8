"""Indications and readings: what instruments say, and what was accepted for a feature.

Units inside the program are mm and decimal degrees; the unit an instrument showed is kept beside the value.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.geometry import Feature

MM_PER_INCH = 25.4  # exact, by the international yard and pound agreement of 1959


class Quantity(StrEnum):
    """What an instrument measures."""

    LENGTH = "length"
    ANGLE = "angle"

    __hash__ = str.__hash__  # as Feature's


class Unit(StrEnum):
    """A unit as shown by an instrument or written in a file."""

    MM = "mm"
    INCH = "inch"
    DEG = "deg"

    @property
    def quantity(self) -> Quantity:
        """Length or angle."""
        return Quantity.ANGLE if self is Unit.DEG else Quantity.LENGTH

    def to_internal(self, shown: float) -> float:
        """Convert a shown value to mm or degrees."""
        return shown * MM_PER_INCH if self is Unit.INCH else shown


class Indication(Struct, frozen=True, kw_only=True):
    """A number with a unit from an instrument's data line, not yet tied to a feature.

    `shown` is the number in `unit` as the instrument displayed it, `decimals` how many digits it gave after the point.
    `channel` is empty for an instrument alone on its cable. `requested` is True when the instrument sent it because its
    data button was pressed or it was asked: such an indication is a proposal to take the reading.
    """

    shown: float
    unit: Unit
    decimals: int = 2
    channel: str = ""
    requested: bool = False

    def __post_init__(self) -> None:
        if not math.isfinite(self.shown):
            raise ValueError("an indication must be a finite number")

    @property
    def quantity(self) -> Quantity:
        """Length or angle."""
        return self.unit.quantity

    @property
    def value(self) -> float:
        """The value in mm or degrees."""
        return self.unit.to_internal(self.shown)


class Method(StrEnum):
    """How a reading came in; typed readings have a repeatability of their own."""

    CABLE = "cable"
    TYPED = "typed"

    __hash__ = str.__hash__  # as Feature's


class Reading(Struct, frozen=True, kw_only=True):
    """An indication accepted for a feature: `value` in mm or degrees, the unit it was shown in kept beside it."""

    feature: Feature
    value: float
    unit: Unit = Unit.MM
    method: Method = Method.CABLE
    instrument: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"{self.feature.label}: a reading must be a finite number")
        if self.feature.is_length is not (self.unit.quantity is Quantity.LENGTH):
            raise ValueError(f"{self.feature.label}: a reading in {self.unit} does not fit")

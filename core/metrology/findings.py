"""What an evaluation points out beside its verdict: explanations of contradictory readings, and the next reading."""

from enum import StrEnum

from msgspec import Struct

from core.geometry import Feature
from core.said import NOTHING, Part, Said


class ExplanationKind(StrEnum):
    """The named explanations of contradictory readings."""

    INCH_FOR_MM = "inch-for-mm"
    DEVIATION_FROM_90 = "deviation-from-90"
    NEIGHBOURS_EXCHANGED = "neighbours-exchanged"
    POINT_MISPLACED = "point-misplaced"
    ALL_LENGTHS_INCH = "all-lengths-inch"
    ALL_LENGTHS_MM = "all-lengths-mm"  # taken as inches
    ALL_LENGTHS_CM = "all-lengths-cm"
    ALL_LENGTHS_M = "all-lengths-m"
    RADIANS = "radians"
    GON = "gon"
    MINUTES = "minutes"  # degrees and minutes typed as one decimal number
    QUARTER_TURN = "quarter-turn"
    DIAGONALS_EXCHANGED_OR_TURNED_OVER = "diagonals-exchanged-or-turned-over"
    CORNERS_EXCHANGED = "corners-exchanged"
    SUPPLEMENT = "supplement"
    MISREAD = "misread"
    DIGITS_TRANSPOSED = "digits-transposed"
    GAUGE_ZERO = "gauge-zero"
    CALIPER_ZERO = "caliper-zero"
    OTHER_SEATS = "other-seats"


class Explanation(Struct, frozen=True, kw_only=True):
    """One explanation that restores consistency; `expected` in mm or degrees, None where no single value is meant.

    `of_all`: one cause behind all readings of a kind (a unit, a zero, how the coupon lay). No feature alone is then to
    be read again: `first` is what to do instead, or with a slip at a feature, before it is read again.
    """

    kind: ExplanationKind
    features: tuple[Feature, ...]
    expected: float | None
    text: Part
    cost: float
    of_all: bool = False
    first: Said = NOTHING


class NextReason(StrEnum):
    """Why a reading is asked for."""

    FIRST = "first"  # not read yet, and it would settle most
    AGAIN = "again"  # read once, and a misreading there could pass unseen
    SUSPECT = "suspect"  # its residual is too large


class NextReading(Struct, frozen=True, kw_only=True):
    """The reading that would best settle what is open."""

    feature: Feature
    reason: NextReason

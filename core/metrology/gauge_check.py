"""The check before measuring: what zero an instrument has today, and whether it can be trusted at all.

Stage: before the first reading. In: readings of closed jaws and of a setting block, or of a try square and the same
turned over. Out: the zero and its standard deviation for this session, and whether the instrument does what its
accuracy promises. The prior knowledge of the zero (0 with zero_sd) and the check are combined by weight (GUM, JCGM
100:2008, 4.3 and 5.1; for two independent estimates the inverse-variance mean).
"""

import math
from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.accuracy import InstrumentAccuracy
from core.metrology.adjustment import Estimate
from core.metrology.reliability import LOCAL_LIMIT
from core.said import Angle, Length, Said, said

# A check fails at 0.1 %, like the local test on readings: more often, and people stop believing it.
_LIMIT_SDS = LOCAL_LIMIT
# Setting blocks of ordinary grade keep their sizes within about 5 micrometres (common practice).
BLOCK_HALF_WIDTH_MM = 0.005
# A reading farther from every side than this is no reading of a block.
_BLOCK_REACH_MM = 0.3
JAWS_CLOSED_MM = 0.0


class Block(StrEnum):
    """Setting blocks come in two systems whose sides differ by 0.4 to 1.2 mm: ask which."""

    INCH = "inch"
    METRIC = "metric"

    @property
    def sides_mm(self) -> tuple[float, ...]:
        """The three sides, shortest first (1 x 2 x 3 inch; 25 x 50 x 75 mm)."""
        return (25.4, 50.8, 76.2) if self is Block.INCH else (25.0, 50.0, 75.0)


class CheckedLength(Struct, frozen=True, kw_only=True):
    """Readings of one reference length in mm; `nominal_mm` is 0 for closed jaws."""

    nominal_mm: float
    readings_mm: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.readings_mm or not all(math.isfinite(reading) for reading in self.readings_mm):
            nominal = Length(self.nominal_mm, None)
            raise BadInputError(
                said("check at {nominal}: at least one reading is needed, each a number", nominal=nominal)
            )

    @property
    def error_mm(self) -> float:
        """Mean reading less nominal."""
        return sum(self.readings_mm) / len(self.readings_mm) - self.nominal_mm


class InstrumentCheck(Struct, frozen=True, kw_only=True):
    """Outcome: `zero` for this session in mm or degrees, whether it passed, and a sentence for the person.

    `found` is the zero by this check alone, without what was known before: two checks are compared by it.
    `square_error` is that of the try square (its angle less 90 degrees), None for a caliper.
    """

    zero: Estimate
    found: Estimate
    passed: bool
    text: Said
    square_error: Estimate | None = None

    def applied_to(self, accuracy: InstrumentAccuracy) -> InstrumentAccuracy:
        """The accuracy with today's zero."""
        return replace(accuracy, zero_sd=self.zero.u, zero=self.zero.value)


def block_side(reading_mm: float) -> tuple[Block, float] | None:
    """Which block and which of its sides a reading looks like; None when it looks like none."""
    block, side_mm = min(
        ((block, side_mm) for block in Block for side_mm in block.sides_mm), key=lambda pair: abs(pair[1] - reading_mm)
    )
    return (block, side_mm) if abs(side_mm - reading_mm) <= _BLOCK_REACH_MM else None


def check_caliper(accuracy: InstrumentAccuracy, lengths: Sequence[CheckedLength]) -> InstrumentCheck:
    """Zero of a caliper from closed jaws and setting blocks, any of them; raises BadInputError without one."""
    if not lengths:
        raise BadInputError(said("caliper check: close the jaws or measure a setting block first"))
    variances = [_length_variance(accuracy, length) for length in lengths]
    zero = _with_prior(accuracy, [length.error_mm for length in lengths], variances)
    found = _weighted_mean([length.error_mm for length in lengths], variances)
    for length in lengths:
        other = _other_block(length)
        if other is not None:
            return InstrumentCheck(zero=zero, found=found, passed=False, text=other)
    disagreement = _disagreement(lengths, variances, found)
    if disagreement is not None:
        return InstrumentCheck(zero=zero, found=found, passed=False, text=disagreement)
    if abs(found.value - accuracy.zero) > _LIMIT_SDS * math.hypot(accuracy.zero_sd, found.u):
        return InstrumentCheck(zero=zero, found=found, passed=False, text=_not_zeroed_text(found))
    in_order = said("Caliper in order; zero error {zero}.", zero=Length(zero.value, 3, zero.U95, signed=True))
    return InstrumentCheck(zero=zero, found=found, passed=True, text=in_order)


def check_gauge(
    accuracy: InstrumentAccuracy, square_deg: Sequence[float], turned_over_deg: Sequence[float]
) -> InstrumentCheck:
    """Zero of an angle gauge from a try square on a flat plate, and the same square turned over.

    The two angles a square makes with the plate on its left and its right add to 180 degrees: 90 + s and 90 - s. The
    gauge adds its zero to both, so the mean shows the gauge and half the difference the square (reversal method).
    Raises BadInputError unless both positions were read.
    """
    if not square_deg or not turned_over_deg:
        raise BadInputError(said("gauge check: read the square as it stands and turned over"))
    one, other = (sum(readings) / len(readings) for readings in (square_deg, turned_over_deg))
    if max(abs(one - 90.0), abs(other - 90.0)) > 10.0:
        means = {"one": Angle(one, None), "other": Angle(other, None)}
        raise BadInputError(said("gauge check: {one} and {other} are no readings of a square", **means))
    variance = sum(accuracy.mean_variance(len(readings), 0.0) for readings in (square_deg, turned_over_deg)) / 4.0
    found = Estimate(value=(one + other) / 2.0 - 90.0, u=math.sqrt(variance))
    zero = _with_prior(accuracy, [found.value], [variance])
    square_error = Estimate(value=(one - other) / 2.0, u=math.sqrt(variance))
    passed = abs(found.value) <= _LIMIT_SDS * math.sqrt(accuracy.zero_sd**2 + variance)
    if passed:
        text = said(
            "Angle gauge in order; zero error {zero}, the square itself {square}.",
            zero=Angle(zero.value, u_deg=zero.U95, signed=True),
            square=Angle(square_error.value, u_deg=square_error.U95, signed=True),
        )
    else:
        text = said(
            "The angle gauge is off by {zero}: set it to zero on a flat plate, and check again.",
            zero=Angle(found.value, signed=True),
        )
    return InstrumentCheck(zero=zero, found=found, passed=passed, text=text, square_error=square_error)


def _length_variance(accuracy: InstrumentAccuracy, length: CheckedLength) -> float:
    """Variance of the mean error at one length: no linearity with closed jaws, where the scale has not moved."""
    count = len(length.readings_mm)
    if length.nominal_mm == JAWS_CLOSED_MM:
        return (accuracy.repeatability**2 + accuracy.resolution**2 / 12.0) / count
    return accuracy.mean_variance(count, BLOCK_HALF_WIDTH_MM / math.sqrt(3.0))


def _with_prior(accuracy: InstrumentAccuracy, errors: Sequence[float], variances: Sequence[float]) -> Estimate:
    """The errors found, weighted with what was known of the zero before."""
    return _weighted_mean((accuracy.zero, *errors), (accuracy.zero_sd**2, *variances))


def _weighted_mean(values: Sequence[float], variances: Sequence[float]) -> Estimate:
    """Inverse-variance mean and its standard uncertainty."""
    tiny = 1e-18  # keeps a perfect instrument's weight finite
    weights = [1.0 / max(variance, tiny) for variance in variances]
    total = sum(weights)
    mean = sum(weight * value for weight, value in zip(weights, values, strict=True)) / total
    return Estimate(value=mean, u=math.sqrt(1.0 / total))


def _other_block(length: CheckedLength) -> Said | None:
    """A sentence when the reading is that of the other system's block."""
    reading_mm = length.nominal_mm + length.error_mm
    likely = block_side(reading_mm)
    if length.nominal_mm == JAWS_CLOSED_MM or likely is None or abs(likely[1] - length.nominal_mm) < _BLOCK_REACH_MM:
        return None
    sides = {"reading": Length(reading_mm), "side": Length(likely[1], None), "nominal": Length(length.nominal_mm, None)}
    if likely[0] is Block.INCH:
        return said("{reading} is a side of the inch block ({side}), not {nominal}.", **sides)
    return said("{reading} is a side of the metric block ({side}), not {nominal}.", **sides)


def _disagreement(lengths: Sequence[CheckedLength], variances: Sequence[float], found: Estimate) -> Said | None:
    """A sentence when one zero cannot explain all lengths: the scale is wrong, or a jaw is dirty or bent."""
    residuals_mm = [length.error_mm - found.value for length in lengths]
    # A residual from a weighted mean has the variance of its length less that of the mean.
    tolerated_mm = [_LIMIT_SDS * math.sqrt(max(variance - found.u**2, 1e-18)) for variance in variances]
    if all(abs(residual) <= limit for residual, limit in zip(residuals_mm, tolerated_mm, strict=True)):
        return None
    # Two lengths accuse each other equally; the one that moved the scale farther from its zero is named.
    worst_mm, at_mm = max(
        ((residual, length.nominal_mm) for residual, length in zip(residuals_mm, lengths, strict=True)),
        key=lambda named: abs(named[0]),
    )
    worst, at = Length(worst_mm, 3, signed=True), Length(at_mm, None)
    if at_mm == JAWS_CLOSED_MM:
        return said(
            "The caliper reads {worst} with closed jaws against its other checks, more than it may: clean the jaws and "
            "check again; if it stays, do not measure with it.",
            worst=worst,
        )
    return said(
        "The caliper reads {worst} at {at} against its other checks, more than it may: clean the jaws and check again; "
        "if it stays, do not measure with it.",
        worst=worst,
        at=at,
    )


def _not_zeroed_text(zero: Estimate) -> Said:
    return said(
        "The caliper's zero is off by {zero}: wipe the jaws, close them, press zero, and check again.",
        zero=Length(zero.value, 3, zero.U95, signed=True),
    )

"""What is known of the instruments before anything is read: resolution, repeatability, linearity, zero.

The defaults are the normative ones of the measuring model: a 0.01 mm digital caliper and a 0.1 degree digital angle
gauge in a workshop's hands (common practice; a gauge check or a gauge study replaces them by measured values).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from core.errors import BadInputError
from core.geometry.features import Feature, FeatureKind

# What is off by more than this, in mm or degrees, measures nothing; beyond it numbers lose their meaning as well.
MAX_AMOUNT = 100.0


def _check_amount(name: str, amount: float) -> None:
    if not 0.0 <= amount <= MAX_AMOUNT:
        raise BadInputError(f"{name} {amount:g}: it must lie between 0 and {MAX_AMOUNT:g} mm or degrees")


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentAccuracy:
    """One instrument; all fields in the unit of its quantity (mm or degrees).

    `repeatability` is the standard deviation of one careful reading, `linearity` the half-width of the rectangular
    distribution of its scale error, `zero_sd` the standard deviation of its zero, `zero` the zero error already known
    (from a gauge check) and to be expected.
    """

    resolution: float
    repeatability: float
    linearity: float
    zero_sd: float
    zero: float = 0.0

    def __post_init__(self) -> None:
        for name in ("resolution", "repeatability", "linearity", "zero_sd"):
            _check_amount(name, getattr(self, name))
        if not abs(self.zero) <= MAX_AMOUNT:
            raise BadInputError(f"zero {self.zero:g}: it must lie within {MAX_AMOUNT:g} mm or degrees")
        if self.repeatability == 0.0 and self.resolution == 0.0 and self.linearity == 0.0:
            raise BadInputError("an instrument without any uncertainty cannot be weighted")

    def mean_variance(self, count: int, form: float, repeatability: float | None = None) -> float:
        """Variance of the mean of `count` readings of one feature; linearity and form do not shrink with repeats."""
        sd = self.repeatability if repeatability is None else repeatability
        return (sd**2 + self.resolution**2 / 12.0) / count + self.linearity**2 / 3.0 + form**2


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponForm:
    """Form deviation of the coupon itself, as standard deviations: what differs from place to place on a cut edge."""

    edge_mm: float = 0.02
    diagonal_mm: float = 0.05
    corner_deg: float = 0.05

    def __post_init__(self) -> None:
        for name in ("edge_mm", "diagonal_mm", "corner_deg"):
            _check_amount(f"form {name}", getattr(self, name))

    def of(self, kind: FeatureKind) -> float:
        """The form deviation that enters a feature of this kind, in mm or degrees."""
        match kind:
            case FeatureKind.EDGE | FeatureKind.WINDOW:
                return self.edge_mm
            case FeatureKind.DIAGONAL:
                return self.diagonal_mm
            case FeatureKind.CORNER:
                return self.corner_deg


class EdgeMethod(StrEnum):
    """How the jaws meet an edge: seated on the two neighbouring edges, or tip to tip at the corners."""

    SEATED = "seated"
    TIPS = "tips"


DEFAULT_CALIPER = InstrumentAccuracy(resolution=0.01, repeatability=0.02, linearity=0.02, zero_sd=0.01)
DEFAULT_GAUGE = InstrumentAccuracy(resolution=0.1, repeatability=0.1, linearity=0.1, zero_sd=0.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringSetup:
    """Everything the weights depend on; `typed_repeatability_mm`/`_deg` serve readings keyed in by hand."""

    caliper: InstrumentAccuracy = DEFAULT_CALIPER
    gauge: InstrumentAccuracy = DEFAULT_GAUGE
    form: CouponForm = field(default_factory=CouponForm)
    edge_method: EdgeMethod = EdgeMethod.SEATED
    typed_repeatability_mm: float = 0.02
    typed_repeatability_deg: float = 0.1

    def instrument(self, feature: Feature) -> InstrumentAccuracy:
        """The caliper for lengths, the angle gauge for corners."""
        return self.caliper if feature.is_length else self.gauge

"""What is known of the instruments before anything is read: resolution, repeatability, linearity, zero.

The defaults are the normative ones of the measuring model: a 0.01 mm digital caliper and a 0.1 degree digital angle
gauge in a workshop's hands (common practice; a gauge check or a gauge study replaces them by measured values).
"""

from enum import StrEnum

from msgspec import Struct, field

from core.errors import BadInputError
from core.geometry import Coupon, Feature, FeatureKind
from core.metrology.readings import Method, Quantity
from core.said import Length, Name, Number, said

# What is off by more than this, in mm or degrees, measures nothing; beyond it numbers lose their meaning as well.
MAX_AMOUNT = 100.0
DEFAULT_JAW_DEPTH_MM = 8.0
MAX_JAW_DEPTH_MM = 100.0  # no caliper's jaws are longer
MOST_EARLIER_NU = 30.0  # earlier coupons count for no more: a hand changes


def _check_amount(name: str, amount: float) -> None:
    if not 0.0 <= amount <= MAX_AMOUNT:
        raise BadInputError(
            said(
                "{name} {amount}: it must lie between 0 and {most} mm or degrees",
                name=Name(name),
                amount=Number(amount),
                most=Number(MAX_AMOUNT),
            )
        )


class InstrumentAccuracy(Struct, frozen=True, kw_only=True):
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
            zero, most = Number(self.zero), Number(MAX_AMOUNT)
            raise BadInputError(said("zero {zero}: it must lie within {most} mm or degrees", zero=zero, most=most))
        if self.repeatability == 0.0 and self.resolution == 0.0 and self.linearity == 0.0:
            raise BadInputError(said("an instrument without any uncertainty cannot be weighted"))

    @property
    def rounding_variance(self) -> float:
        """Variance of what the display rounds away; repeats of a thing that does not move never average it out."""
        return self.resolution**2 / 12.0

    def mean_variance(self, count: int, form: float, repeat_variance: float | None = None) -> float:
        """Variance of the mean of `count` readings of one feature; linearity and form do not shrink with repeats.

        `repeat_variance` is the learned one; without it that of the repeatability set.
        """
        one = self.repeatability**2 + self.rounding_variance if repeat_variance is None else repeat_variance
        return max(one / count, self.rounding_variance) + self.linearity**2 / 3.0 + form**2


class CouponForm(Struct, frozen=True, kw_only=True):
    """Form deviation of the coupon itself, as standard deviations: what differs from place to place on a cut edge.

    `diagonal_mm` is that of a diagonal from corner to corner, one corner burnt or crushed more than another (0.10 after
    a hot cut); `seat_mm` that of one from seat to seat.
    """

    edge_mm: float = 0.02
    diagonal_mm: float = 0.05
    corner_deg: float = 0.05
    seat_mm: float = 0.02

    def __post_init__(self) -> None:
        for name in ("edge_mm", "diagonal_mm", "corner_deg", "seat_mm"):
            _check_amount(f"form {name}", getattr(self, name))

    def of(self, kind: FeatureKind, coupon: Coupon) -> float:
        """The form deviation that enters a feature of this kind on this coupon, in mm or degrees."""
        match kind:
            case FeatureKind.EDGE | FeatureKind.WINDOW:
                return self.edge_mm
            case FeatureKind.DIAGONAL:
                return self.diagonal_mm if coupon.seats is None else self.seat_mm
            case FeatureKind.CORNER:
                return self.corner_deg


class EdgeMethod(StrEnum):
    """How the jaws meet an edge: seated on the two neighbouring edges, or tip to tip at the corners."""

    SEATED = "seated"
    TIPS = "tips"


DEFAULT_CALIPER = InstrumentAccuracy(resolution=0.01, repeatability=0.02, linearity=0.02, zero_sd=0.01)
DEFAULT_GAUGE = InstrumentAccuracy(resolution=0.1, repeatability=0.1, linearity=0.1, zero_sd=0.2)


class EarlierHand(Struct, frozen=True, kw_only=True):
    """What earlier coupons taught of one instrument in one person's hand: variance of a reading, degrees of freedom."""

    quantity: Quantity
    method: Method
    instrument: str
    variance: float
    nu: float

    def __post_init__(self) -> None:
        _check_amount("earlier repeatability", self.variance)
        if not 0.0 < self.nu <= MOST_EARLIER_NU:
            raise BadInputError(
                said(
                    "degrees of freedom of an earlier hand, {nu}: they must lie between 0 and {most}",
                    nu=Number(self.nu),
                    most=Number(MOST_EARLIER_NU),
                )
            )


class MeasuringSetup(Struct, frozen=True, kw_only=True):
    """Everything the weights depend on; `typed_repeatability_mm`/`_deg` serve readings keyed in by hand.

    `jaw_depth_mm` is how far the jaws reach along an edge beyond the seat at its end; `hands` is what is brought along
    from earlier coupons of the same instruments and person.
    """

    caliper: InstrumentAccuracy = DEFAULT_CALIPER
    gauge: InstrumentAccuracy = DEFAULT_GAUGE
    form: CouponForm = field(default_factory=CouponForm)
    edge_method: EdgeMethod = EdgeMethod.SEATED
    typed_repeatability_mm: float = 0.02
    typed_repeatability_deg: float = 0.1
    jaw_depth_mm: float = DEFAULT_JAW_DEPTH_MM
    hands: tuple[EarlierHand, ...] = ()

    def __post_init__(self) -> None:
        for name in ("typed_repeatability_mm", "typed_repeatability_deg"):
            _check_amount(name.replace("_", " "), getattr(self, name))
        if not 0.0 <= self.jaw_depth_mm <= MAX_JAW_DEPTH_MM:
            raise BadInputError(
                said(
                    "jaw depth {depth}: it must lie between 0 and {most}",
                    depth=Length(self.jaw_depth_mm, None),
                    most=Length(MAX_JAW_DEPTH_MM, None),
                )
            )

    def set_variance(self, quantity: Quantity, method: Method) -> float:
        """Variance of one careful reading as the instruments are set: repeatability and rounding."""
        instrument = self.caliper if quantity is Quantity.LENGTH else self.gauge
        sd = instrument.repeatability
        if method is Method.TYPED:
            sd = self.typed_repeatability_mm if quantity is Quantity.LENGTH else self.typed_repeatability_deg
        return sd**2 + instrument.rounding_variance

    def instrument(self, feature: Feature) -> InstrumentAccuracy:
        """The caliper for lengths, the angle gauge for corners."""
        return self.caliper if feature.is_length else self.gauge

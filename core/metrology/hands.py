"""How repeatable the readings are in this hand: learned from repeats, beginning with what is set and known of earlier.

Stage: before the adjustment. In: the readings that count, a measuring setup. Out: one `Hand` an instrument and method
(cable, typed), and for every feature what its repeats say of themselves. The variance of one reading is that of a
scaled inverse chi-square distribution (the conjugate prior of a normal variance; any text on Bayesian statistics):

    s^2 = (nu0 s0^2 + nu_h s_h^2 + S) / (nu0 + nu_h + nu1)

s0 is what is set (nu0 = 6: as good as six repeats), s_h that of earlier coupons, S the sum of the squared deviations of
repeats from the mean of their feature. A hand that is clearly another one than is set is believed: nu0 is then 1.
Repeats that not even the roughest hand explains are none's: something is loose, and no word is said.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

from core.geometry import TEN_FEATURES, Feature
from core.metrology.accuracy import DEFAULT_CALIPER, DEFAULT_GAUGE, MOST_EARLIER_NU, EarlierHand, MeasuringSetup
from core.metrology.distributions import chi_square_quantile, f_cdf, normal_quantile, student_quantile
from core.metrology.readings import Method, Quantity, Reading

SET_NU = 6.0  # what is set counts as much as so many repeats,
DOUBTED_NU = 1.0  # and hardly anything where the repeats speak against it
DOUBT = 0.95
REPEAT_FALSE_ALARM = 0.001
POWER = 0.8
ENOUGH_TO_BE_A_HAND = 4  # readings of one feature without one that sticks out: the scatter is the hand's
ROUGHEST = 5.0  # times what is set, or what is usual: beyond it no hand explains repeats, something is loose
_LEAST_VARIANCE = 1e-18  # keeps a perfect instrument's weight finite


class HandKey(Struct, frozen=True, kw_only=True):
    """One instrument, read one way."""

    quantity: Quantity
    method: Method
    instrument: str


class Hand(Struct, frozen=True, kw_only=True):
    """Variance of one reading in mm^2 or degrees^2, and how well it is known (degrees of freedom).

    `set_variance` is that of the instrument as set, `rounding_variance` what no repeat averages out; `scatter` the sum
    of the squared deviations of `repeats` repeats beyond the first of each feature, `earlier` what was brought along.
    """

    key: HandKey
    set_variance: float
    rounding_variance: float
    scatter: float
    repeats: int
    earlier: EarlierHand | None
    variance: float
    nu: float

    def without(self, scatter: float, repeats: int) -> tuple[float, float]:
        """Variance and degrees of freedom, learned without some of the repeats."""
        if not repeats:
            return self.variance, self.nu
        left = self.scatter - scatter
        # What is left of a sum that was taken off nearly whole is rounding.
        left = left if left > 1e-9 * self.scatter else 0.0
        return _learned(self.set_variance, self.rounding_variance, self.earlier, left, self.repeats - repeats)

    @property
    def roughest_variance(self) -> float:
        """That of a reading by the roughest hand there is."""
        usual = DEFAULT_CALIPER if self.key.quantity is Quantity.LENGTH else DEFAULT_GAUGE
        return ROUGHEST**2 * max(self.set_variance, usual.repeatability**2)

    def mean_variance(self, count: int) -> float:
        """What is left of it in the mean of `count` readings of one feature."""
        return max(self.variance / count, self.rounding_variance)

    def as_earlier(self) -> EarlierHand | None:
        """What this coupon and those before it taught, for the next one; None where nothing was repeated."""
        scatter, nu = self.scatter, float(self.repeats)
        if self.earlier is not None:
            scatter, nu = scatter + self.earlier.nu * self.earlier.variance, nu + self.earlier.nu
        if nu <= 0.0:
            return None
        return EarlierHand(
            quantity=self.key.quantity,
            method=self.key.method,
            instrument=self.key.instrument,
            variance=scatter / nu,
            nu=min(nu, MOST_EARLIER_NU),
        )


class Repeats(Struct, frozen=True, kw_only=True):
    """The readings of one feature by one hand: their number, mean, and sum of squared deviations from it."""

    hand: int
    count: int
    mean: float
    scatter: float


class FeatureReadings(Struct, frozen=True, kw_only=True):
    """What was read of one feature, and what its repeats say of themselves.

    `own_variance` is that of its repeats alone where they scatter more than the hand does elsewhere and none of them
    sticks out: it counts instead of the hand's. `disagrees`: they differ by more than chance, or than the roughest hand
    explains, and it has to be read again. `outlier` is the reading that sticks out, offered for voiding. `unseen` is
    how far a slip in one of them can shift their mean and hardly be noticed; infinite for a single reading.
    """

    feature: Feature
    values: tuple[float, ...]
    repeats: tuple[Repeats, ...]
    own_variance: float | None = None
    disagrees: bool = False
    outlier: float | None = None
    unseen: float = math.inf

    @property
    def count(self) -> int:
        """How many readings there are of it."""
        return len(self.values)


class Learned(Struct, frozen=True, kw_only=True):
    """All hands at work on a coupon, and the features they read, in the order of TEN_FEATURES."""

    hands: tuple[Hand, ...]
    features: tuple[FeatureReadings, ...]

    @property
    def disagreeing(self) -> tuple[Feature, ...]:
        """Features whose repeats do not agree with one another."""
        return tuple(read.feature for read in self.features if read.disagrees)


def learn(readings: Sequence[Reading], setup: MeasuringSetup) -> Learned:
    """What the readings that count say of the hands that took them; readings of a window are left out."""
    places: dict[tuple[Quantity, Method, str], int] = {}
    values: dict[Feature, list[float]] = {}
    by_hand: dict[Feature, dict[int, list[float]]] = {}
    for reading in readings:
        feature = reading.feature
        if feature in _TEN:
            key = (_QUANTITY[feature], reading.method, reading.instrument)
            place = places.setdefault(key, len(places))
            values.setdefault(feature, []).append(reading.value)
            by_hand.setdefault(feature, {}).setdefault(place, []).append(reading.value)
    scatter, repeats = [0.0] * len(places), [0] * len(places)
    grouped: dict[Feature, tuple[Repeats, ...]] = {}
    for feature, groups in by_hand.items():
        grouped[feature] = tuple([_repeats(place, group) for place, group in groups.items()])
        for group in grouped[feature]:
            scatter[group.hand] += group.scatter
            repeats[group.hand] += group.count - 1
    hands = tuple(
        _hand(HandKey(quantity=quantity, method=method, instrument=instrument), setup, of_all, count)
        for (quantity, method, instrument), of_all, count in zip(places, scatter, repeats, strict=True)
    )
    return Learned(
        hands=hands,
        features=tuple(
            _feature(feature, tuple(values[feature]), grouped[feature], hands)
            for feature in TEN_FEATURES
            if feature in values
        ),
    )


_TEN = frozenset(TEN_FEATURES)
_QUANTITY = {f: Quantity.LENGTH if f.is_length else Quantity.ANGLE for f in TEN_FEATURES}


def _repeats(hand: int, values: Sequence[float]) -> Repeats:
    if len(values) == 1:
        return Repeats(hand=hand, count=1, mean=values[0], scatter=0.0)
    first = values[0]  # deviations from it, so that equal readings scatter by exactly nothing
    beyond = [value - first for value in values]
    mean = sum(beyond) / len(values)
    return Repeats(
        hand=hand, count=len(values), mean=first + mean, scatter=sum((value - mean) ** 2 for value in beyond)
    )


def _hand(key: HandKey, setup: MeasuringSetup, scatter: float, repeats: int) -> Hand:
    instrument = setup.caliper if key.quantity is Quantity.LENGTH else setup.gauge
    earlier = next(
        (
            known
            for known in setup.hands
            if (known.quantity, known.method, known.instrument) == (key.quantity, key.method, key.instrument)
        ),
        None,
    )
    set_variance = max(setup.set_variance(key.quantity, key.method), _LEAST_VARIANCE)
    variance, nu = _learned(set_variance, instrument.rounding_variance, earlier, scatter, repeats)
    return Hand(
        key=key,
        set_variance=set_variance,
        rounding_variance=instrument.rounding_variance,
        scatter=scatter,
        repeats=repeats,
        earlier=earlier,
        variance=variance,
        nu=nu,
    )


def _learned(
    set_variance: float, rounding_variance: float, earlier: EarlierHand | None, scatter: float, repeats: int
) -> tuple[float, float]:
    """Variance of one reading and its degrees of freedom."""
    known, nu = scatter, float(repeats)
    if earlier is not None:
        known, nu = known + earlier.nu * earlier.variance, nu + earlier.nu
    set_nu = SET_NU
    if nu > 0.0 and known > set_variance * chi_square_quantile(DOUBT, nu):
        set_nu = DOUBTED_NU
    variance = (set_nu * set_variance + known) / (set_nu + nu)
    return max(variance, rounding_variance), set_nu + nu


def _feature(
    feature: Feature, values: tuple[float, ...], repeats: tuple[Repeats, ...], hands: Sequence[Hand]
) -> FeatureReadings:
    """The tests on the repeats of one feature: F test on their scatter, t test on the one that sticks out."""
    count = len(values)
    if count == 1:
        return FeatureReadings(feature=feature, values=values, repeats=repeats)
    outlier = _outlier(values, repeats, hands) if count > 2 else None
    variance, nu = _widest([hands[group.hand].without(group.scatter, group.count - 1) for group in repeats])
    scatter = _scatter_of_all(values, repeats)
    limit = chi_square_quantile(1.0 - REPEAT_FALSE_ALARM, count - 1.0)
    # An F variable's quantile lies above that of chi-square: most repeats are let through by the cheaper one.
    too_wide = (
        scatter > variance * limit
        and f_cdf(scatter / (count - 1) / variance, count - 1.0, nu) > 1.0 - REPEAT_FALSE_ALARM
    )
    no_hand = scatter > max([hands[group.hand].roughest_variance for group in repeats]) * limit
    of_hand = too_wide and outlier is None and count >= ENOUGH_TO_BE_A_HAND and not no_hand
    sd = math.sqrt(max([hands[group.hand].variance for group in repeats]))
    return FeatureReadings(
        feature=feature,
        values=values,
        repeats=repeats,
        own_variance=scatter / (count - 1) if of_hand else None,
        disagrees=outlier is not None or no_hand or (too_wide and not of_hand),
        outlier=outlier,
        unseen=unseen_among_repeats(count, sd, nu),
    )


def unseen_among_repeats(count: int, sd: float, nu: float) -> float:
    """How far a slip in one of `count` repeats may shift their mean and pass four times out of five; infinite for one.

    `nu` are the degrees of freedom of what the other features' repeats say of the hand.
    """
    if count < 2:
        return math.inf
    return _noticed_sds(nu) * sd * math.sqrt(count / (count - 1.0)) / count


@lru_cache(maxsize=1024)
def _noticed_sds(nu: float) -> float:
    return student_quantile(1.0 - REPEAT_FALSE_ALARM / 2.0, nu) + normal_quantile(POWER)


def _widest(known: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The larger variance and the fewer degrees of freedom, where a feature was read by more than one hand."""
    variances, nus = zip(*known, strict=True)
    return max(variances), min(nus)


def _scatter_of_all(values: Sequence[float], repeats: Sequence[Repeats]) -> float:
    """Sum of squared deviations of all readings from their mean, whoever took them."""
    return repeats[0].scatter if len(repeats) == 1 else _repeats(0, values).scatter


def _outlier(values: Sequence[float], repeats: Sequence[Repeats], hands: Sequence[Hand]) -> float | None:
    """The reading farthest from the median, where it lies farther from the others' mean than chance explains."""
    from statistics import median  # loaded with the first feature that is read three times

    count, middle = len(values), median(values)
    far = max(values, key=lambda value: abs(value - middle))
    others = list(values)
    others.remove(far)
    kept, scatter = _repeats(0, others), _scatter_of_all(values, repeats)
    if scatter == 0.0:
        return None
    variance, nu = _widest(
        [
            hands[group.hand].without(group.scatter - kept.scatter, 1)
            if len(repeats) == 1
            else hands[group.hand].without(group.scatter, group.count - 1)
            for group in repeats
        ]
    )
    limit = _outlier_limit(count, nu) * math.sqrt(variance * count / (count - 1.0))
    return far if abs(far - kept.mean) > limit else None


@lru_cache(maxsize=1024)
def _outlier_limit(count: int, nu: float) -> float:
    return student_quantile(1.0 - REPEAT_FALSE_ALARM / (2.0 * count), nu)

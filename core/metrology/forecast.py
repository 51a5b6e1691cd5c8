"""What readings still to come would do to the word on squareness, before anybody takes them.

Stage: beside the next reading. In: an Evaluation and a plan, features to be read. Out: the uncertainty of squareness
after them, and how far from its limit it must then lie to be settled: beyond the guard, and beyond what a slip that
passes unseen could shift it by. All at the present linearisation and with the repeatability learned so far, which
repeats still to come will have confirmed: it is then known with so many degrees of freedom more.
"""

import math
from collections import Counter
from collections.abc import Sequence

from msgspec import Struct

from core.geometry import SHAPE_PARAMETERS, TEN_FEATURES, Feature, skew_deg
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import MAX_SHAPE_SDS
from core.metrology.groups import guard
from core.metrology.hands import SET_NU, unseen_among_repeats
from core.metrology.judgement import Evaluation
from core.metrology.measuring_model import predicted_readings, trust
from core.metrology.readings import Quantity
from core.metrology.reliability import detection_factor, redundancy_numbers, smallest_detectable
from core.metrology.verdict import Characteristic, CharacteristicGroup
from core.numeric import np

# A plan that brings a word less often than one time in six is not worth anybody's while. Beyond the limit it is one in
# four: a skew that is surely there can be taken out without the word, and most plans are eight readings.
_WORTH_WHILE_SDS, _WORTH_WHILE_BEYOND_SDS = 0.9674215661017014, 0.6744897501960817  # normal quantiles of 5/6 and 3/4


class _After(Struct, frozen=True, kw_only=True):
    """Uncertainty of squareness after a plan, with its degrees of freedom, and the largest shift of it by a slip that
    passes unseen."""

    u: float
    nu: float
    unseen: float


class Forecast:
    """Forecasts for one evaluation; `squareness` is what its word is about."""

    def __init__(self, evaluation: Evaluation, setup: MeasuringSetup, squareness: Characteristic) -> None:
        fit, coupon = evaluation.adjustment, evaluation.coupon
        known = trust(coupon, setup)
        self._coupon, self._setup, self._squareness = coupon, setup, squareness
        self._counts = Counter({reading.feature: reading.count for reading in fit.readings})
        self._hands = {hand.key.quantity: hand for hand in fit.learned.hands}
        self._design = predicted_readings(coupon, fit.parameters, setup)[1] * known.prior_sd
        self._gradient = np.concatenate([skew_deg(fit.parameters)[1], np.zeros(3)]) * known.prior_sd
        self._unit = 1.0  # of squareness, in degrees of skew
        u = self._after(()).u
        self._unit = squareness.u / u if u > 0.0 else 0.0

    def needed(self, plan: Sequence[Feature]) -> float:
        """How far from its limit squareness has to lie after a plan, in its unit, for its word to be settled."""
        return self._needed(self._after(plan))

    def is_worth_while(self, plan: Sequence[Feature]) -> bool:
        """Whether a plan may well bring a settled word, squareness lying where it does.

        Readings to come shift an estimate by as much as they narrow it: the variance of the shift is the difference of
        the variances before and after (conditional power; from memory, any text on sequential trials).
        """
        after = self._after(plan)
        shift = math.sqrt(max(self._squareness.u**2 - after.u**2, 0.0))
        tolerance = self._squareness.tolerance or math.inf
        beyond = abs(self._squareness.share) - 1.0
        missing = self._needed(after) - abs(beyond) * tolerance
        return missing <= (_WORTH_WHILE_BEYOND_SDS if beyond > 0.0 else _WORTH_WHILE_SDS) * shift

    def _needed(self, after: _After) -> float:
        return max(guard(self._coupon, after.u, after.nu), after.unseen)

    def _after(self, plan: Sequence[Feature]) -> _After:
        """What is known of squareness after a plan."""
        counts = self._counts + Counter(plan)
        features = [feature for feature in TEN_FEATURES if counts[feature]]
        rows = [TEN_FEATURES.index(feature) for feature in features]
        sds = np.array([math.sqrt(self._variance(feature, counts[feature])) for feature in features])
        design = self._design[rows] / sds[:, None]
        covariance = np.linalg.inv(np.eye(design.shape[1]) + design.T @ design)
        gain = covariance @ design.T / sds
        factor = detection_factor(len(rows) - SHAPE_PARAMETERS + float(np.trace(covariance[:5, :5])))
        unseen = [
            min(smallest_detectable(sd, r, factor), self._among_repeats(feature, counts))
            for feature, sd, r in zip(
                features, sds.tolist(), redundancy_numbers(design, covariance).tolist(), strict=True
            )
        ]
        beyond_reason = MAX_SHAPE_SDS / np.maximum(np.abs(gain[:SHAPE_PARAMETERS]).max(0), 1e-300)
        slopes = self._gradient @ gain
        shifts = np.abs(slopes) * np.minimum(unseen, beyond_reason)
        variance = float(self._gradient @ covariance @ self._gradient)
        doubt = self._doubt(features, slopes.tolist(), counts)
        return _After(
            u=self._unit * math.sqrt(variance),
            nu=variance * variance / doubt if doubt > 0.0 else math.inf,
            unseen=self._unit * float(shifts.max(initial=0.0)),
        )

    def _doubt(self, features: Sequence[Feature], slopes: Sequence[float], counts: Counter[Feature]) -> float:
        """How little is known of that variance: the square of each hand's part over its degrees of freedom, summed."""
        doubt = 0.0
        for quantity, hand in self._hands.items():
            read = [(f, slope) for f, slope in zip(features, slopes, strict=True) if _quantity(f) is quantity]
            part = sum(slope * slope * hand.mean_variance(counts[feature]) for feature, slope in read)
            doubt += part * part / (hand.nu - hand.repeats + sum(counts[feature] - 1 for feature, _ in read))
        return doubt

    def _variance(self, feature: Feature, count: int) -> float:
        """Of the mean of so many readings of a feature."""
        instrument, hand = self._setup.instrument(feature), self._hands.get(_quantity(feature))
        one = None if hand is None else hand.variance
        return instrument.mean_variance(count, self._setup.form.of(feature.kind, self._coupon), one)

    def _among_repeats(self, feature: Feature, counts: Counter[Feature]) -> float:
        """What a slip in one of a feature's repeats may shift their mean by and pass."""
        count, quantity = counts[feature], _quantity(feature)
        hand = self._hands.get(quantity)
        variance = self._setup.instrument(feature).mean_variance(1, 0.0) if hand is None else hand.variance
        others = sum(
            n - 1 for other, n in counts.items() if n and other is not feature and _quantity(other) is quantity
        )
        brought = SET_NU if hand is None else hand.nu - hand.repeats
        return unseen_among_repeats(count, math.sqrt(variance), brought + others)


def _quantity(feature: Feature) -> Quantity:
    return Quantity.LENGTH if feature.is_length else Quantity.ANGLE


def squareness_of(evaluation: Evaluation) -> Characteristic | None:
    """The characteristic that the word on squareness is about; None where it has no limit or is not asked for."""
    return next((one for one in evaluation.characteristics if one.group is CharacteristicGroup.SQUARENESS), None)

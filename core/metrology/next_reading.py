"""Which reading to take next: whatever settles the groups asked for in the fewest, squareness first.

Stage: after the groups. In: an Evaluation and what can be read with the instruments at hand. Out: a feature and why, or
None when nothing more is worth asking for. The order: what is suspect; both diagonals, each twice; the cheapest witness
where the machine has to be moved; edges, each twice, for shape and size; then what is left of twelve readings for a
word near its limit.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import numpy as np

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import skew_deg
from core.metrology.accuracy import MeasuringSetup
from core.metrology.findings import NextReading, NextReason
from core.metrology.groups import flagged
from core.metrology.judgement import Evaluation
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import Quantity
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import corners_agree, names_are_in_doubt, names_are_proven

MOST_READINGS = 12  # without a settled word by then, the coupon is too close to the limit
MOST_WITH_SUSPECTS = 16  # a whole coupon takes twelve, and a slip in the last of them can still be mended
MAX_COUNT = 3  # repeats of one feature, but for diagonals of a word near its limit
SUSPECT_COUNT = 5  # readings of a feature that contradicts itself or the others
CORNERS_TWICE = 2


def too_close(evaluation: Evaluation) -> bool:
    """Twelve readings and no settled word: a larger coupon or a second cut tells more than a thirteenth."""
    return _count(evaluation) >= MOST_READINGS and not evaluation.settled and evaluation.adjustment.consistent


def is_a_toss_up(evaluation: Evaluation) -> bool:
    """Whether the word on squareness only changes with chance: it was looked at after every reading, both diagonals are
    read twice, and twelve readings did not settle it.

    Who looks so often and says whatever stands at the end is wrong at the limit more often than 5 % (sequential
    testing; A. Wald, Sequential Analysis, 1947): an unsettled word is then none.
    """
    squareness, fit = evaluation.group(CharacteristicGroup.SQUARENESS), evaluation.adjustment
    counts = {reading.feature: reading.count for reading in fit.readings}
    return (
        _count(evaluation) >= MOST_READINGS
        and all(counts.get(diagonal, 0) > 1 for diagonal in DIAGONALS)
        and squareness.verdict in (Verdict.GO, Verdict.NO_GO)
        and not squareness.settled
        and not names_are_in_doubt(evaluation)
        and not flagged(fit)
    )


def next_reading(
    evaluation: Evaluation,
    setup: MeasuringSetup,
    *,
    suspects: Sequence[Feature] = (),
    among: Collection[Feature] = TEN_FEATURES,
) -> NextReading | None:
    """The reading to take next; `among` are the features that can be read with the instruments at hand."""
    counts = {reading.feature: reading.count for reading in evaluation.adjustment.readings}
    if _count(evaluation) < MOST_WITH_SUSPECTS:
        for feature in suspects:
            if feature in among and counts.get(feature, 0) < SUSPECT_COUNT:
                return NextReading(feature=feature, reason=NextReason.SUSPECT)
    if not evaluation.adjustment.consistent:
        return None
    for wanted in (
        _for_squareness(evaluation, counts, among),
        _for_witness(evaluation, counts, among),
        _for_the_part(evaluation, counts, among),
        _near_the_limit(evaluation, setup, counts, among),
    ):
        if wanted is not None:
            reason = NextReason.AGAIN if counts.get(wanted, 0) else NextReason.FIRST
            return NextReading(feature=wanted, reason=reason)
    return None


def _count(evaluation: Evaluation) -> int:
    return sum(reading.count for reading in evaluation.adjustment.readings)


def _wants(evaluation: Evaluation, group: CharacteristicGroup) -> bool:
    """Whether a group is to be settled: it has a limit, it was not left out by name, and is still open."""
    found = evaluation.group(group)
    return found.judged and not found.settled and (evaluation.named is None or group in evaluation.named)


def _least_read(counts: dict[Feature, int], features: Sequence[Feature], most: int) -> Feature | None:
    """The first of those read least often, as long as that is less than `most` times."""
    least = min(features, key=lambda feature: counts.get(feature, 0), default=None)
    return least if least is not None and counts.get(least, 0) < most else None


def _for_squareness(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """Both diagonals, each twice; where they cannot be read, all corners."""
    if not _wants(evaluation, CharacteristicGroup.SQUARENESS):
        return None
    if all(diagonal in among for diagonal in DIAGONALS):
        return _least_read(counts, DIAGONALS, 2)
    return _least_read(counts, [corner for corner in CORNERS if corner in among], 2)


def _for_witness(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """The corners, where a move is called for and nothing proves which diagonal is which.

    The opposite pair NL and FR first: together they show the skew free of any taper.
    """
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    settled = squareness.verdict is Verdict.NO_GO and squareness.settled
    called_for = squareness.asked and (settled or names_are_in_doubt(evaluation))
    if not called_for or names_are_proven(evaluation) or corners_agree(evaluation):
        return None
    NL, NR, FR, FL = CORNERS
    return _least_read(counts, [corner for corner in (NL, FR, NR, FL) if corner in among], CORNERS_TWICE)


def _for_the_part(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """Edges not read yet, in their order; then the feature whose slip would do most to a word on shape or size."""
    groups = [group for group in (CharacteristicGroup.SIZE, CharacteristicGroup.SHAPE) if _wants(evaluation, group)]
    if not groups or _count(evaluation) >= MOST_READINGS:
        return None
    first = _least_read(counts, [edge for edge in EDGES if edge in among], 1)
    if first is not None:
        return first
    for group in groups:
        again = evaluation.group(group).again
        if again is not None and again in among and counts.get(again, 0) < MAX_COUNT:
            return again
    return None


def _near_the_limit(
    evaluation: Evaluation, setup: MeasuringSetup, counts: dict[Feature, int], among: Collection[Feature]
) -> Feature | None:
    """As far as twelve readings go, what would narrow squareness most, or check it best, where it is still open.

    Where its uncertainty is the obstacle, diagonals once more, all corners, or (with keyed seats, which show the
    proportion of a coupon as a skew) an edge: whichever narrows it most, reading for reading.
    """
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    if not _wants(evaluation, CharacteristicGroup.SQUARENESS) or _count(evaluation) >= MOST_READINGS:
        return None
    if squareness.verdict is not Verdict.UNDECIDED and squareness.again in among:
        # Repeats of one diagonal are judged by the scatter of the other's: in turn, both become better known.
        return _least_read(counts, DIAGONALS, MOST_READINGS) if squareness.again in DIAGONALS else squareness.again
    corners = sorted(CORNERS, key=lambda corner: counts.get(corner, 0))
    edges = [[edge] for edge in (Feature.NEAR, Feature.LEFT) if not counts.get(edge, 0)]
    plans = [sorted(DIAGONALS, key=lambda diagonal: counts.get(diagonal, 0)), corners, *edges]
    left = MOST_READINGS - _count(evaluation)
    open_plans = [plan[:left] for plan in plans if plan and all(feature in among for feature in plan)]
    forecast = Forecast(evaluation, setup, counts)
    return max(open_plans, key=forecast.gain, default=[None])[0]


class Forecast:
    """What readings would do to the uncertainty of the skew, at the present linearisation."""

    def __init__(self, evaluation: Evaluation, setup: MeasuringSetup, counts: dict[Feature, int]) -> None:
        adjustment = evaluation.adjustment
        self._coupon, self._setup, self._counts = evaluation.coupon, setup, counts
        self._covariance = adjustment.covariance
        self._gradient = np.concatenate([skew_deg(adjustment.parameters)[1], np.zeros(3)])
        self._jacobian = predicted_readings(evaluation.coupon, adjustment.parameters, setup)[1]
        self._variances = {hand.key.quantity: hand.variance for hand in adjustment.learned.hands}

    def gain(self, plan: Sequence[Feature]) -> float:
        """By how much a plan narrows the skew, logarithm of the ratio of variances, for each of its readings."""
        covariance, read = self._covariance, dict(self._counts)
        for feature in plan:
            row, count = self._jacobian[TEN_FEATURES.index(feature)], read.get(feature, 0)
            weight = 1.0 / self._variance(feature, count + 1) - (1.0 / self._variance(feature, count) if count else 0.0)
            spread = covariance @ row
            covariance = covariance - np.outer(spread, spread) * (weight / (1.0 + weight * float(row @ spread)))
            read[feature] = count + 1
        before, after = (float(self._gradient @ C @ self._gradient) for C in (self._covariance, covariance))
        return math.log(before / after) / len(plan)

    def _variance(self, feature: Feature, count: int) -> float:
        quantity = Quantity.LENGTH if feature.is_length else Quantity.ANGLE
        form = self._setup.form.of(feature.kind, self._coupon)
        return self._setup.instrument(feature).mean_variance(count, form, self._variances.get(quantity))

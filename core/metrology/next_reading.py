"""Which reading to take next: the one that would best settle what is open, or that could be wrong unseen.

Stage: after the verdict. In: adjustment, characteristics with their gradients, what has been read. Out: a feature and
why, or None when nothing more is worth asking for. Every forecast is made at the present linearisation: what a reading
would do to the covariance is known before it is taken.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import numpy as np

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import SHAPE_PARAMETERS
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, FloatArray
from core.metrology.characteristics import Measurand
from core.metrology.findings import NextReading, NextReason
from core.metrology.measuring_model import predicted_readings
from core.metrology.verdict import LARGEST_U_SHARE, Characteristic, CharacteristicGroup, Verdict

MAX_COUNT = 3  # nobody is asked for more repeats of one feature
LEAST_GAIN = 0.01  # a reading that shrinks the largest u/T by less is not worth the walk
UNSEEN_SHARE = 0.5  # of a tolerance that a misreading may move a characteristic unseen
# Ways to settle squareness, each with its cross-check in it: the skew alone; corners, where the angle gauge is fine
# enough for the tolerance; lengths alone; everything. Found by trying all sets of up to nine readings.
PLANS = (
    DIAGONALS + DIAGONALS,
    DIAGONALS + CORNERS,
    DIAGONALS + EDGES + DIAGONALS,
    DIAGONALS + EDGES + DIAGONALS + CORNERS,
)


def next_reading(
    adjustment: Adjustment,
    setup: MeasuringSetup,
    *,
    judged: Sequence[tuple[Measurand, Characteristic]],
    cross_checked: bool,
    suspects: Sequence[Feature] = (),
    among: Collection[Feature] = TEN_FEATURES,
) -> NextReading | None:
    """The reading to take next; `among` are the features that can be read with the instruments at hand.

    First what is suspect; then what settles squareness and cross-checks it; then what settles size; then what could be
    misread unseen.
    """
    forecast = Forecast(adjustment, setup, among)
    for feature in suspects:
        # A contradiction is looked into more often than a mere suspicion, but not for ever.
        most = MAX_COUNT if adjustment.consistent else 2 * MAX_COUNT
        if feature in among and forecast.counts.get(feature, 0) < most:
            return NextReading(feature=feature, reason=NextReason.SUSPECT)
    wanted = None
    squareness = _scaled_gradients(judged, CharacteristicGroup.SQUARENESS)
    if not cross_checked or (_open(judged, CharacteristicGroup.SQUARENESS) and not forecast.is_fine((), squareness)):
        wanted = forecast.shortest_plan(squareness)
    for group in (CharacteristicGroup.SQUARENESS, CharacteristicGroup.SIZE):
        if wanted is None and _open(judged, group):
            wanted = forecast.steepest(_scaled_gradients(judged, group, only_undecided=True))
    if wanted is not None:
        return NextReading(feature=wanted, reason=NextReason.AGAIN if wanted in forecast.counts else NextReason.FIRST)
    return _again(adjustment, setup, _scaled_gradients(judged, *CharacteristicGroup), among)


def _open(judged: Sequence[tuple[Measurand, Characteristic]], group: CharacteristicGroup) -> bool:
    """Whether a group is still undecided: a single no-go settles all of it."""
    verdicts = {characteristic.verdict for _, characteristic in judged if characteristic.group is group}
    return Verdict.UNDECIDED in verdicts and Verdict.NO_GO not in verdicts


def _scaled_gradients(
    judged: Sequence[tuple[Measurand, Characteristic]], *groups: CharacteristicGroup, only_undecided: bool = False
) -> FloatArray:
    """Gradients over tolerance of the characteristics of some groups that have a limit, shape (n, 5)."""
    scaled = [
        measurand.gradient / measurand.limit
        for measurand, characteristic in judged
        if measurand.limit is not None
        and characteristic.group in groups
        and not (only_undecided and characteristic.verdict is not Verdict.UNDECIDED)
    ]
    return np.array(scaled).reshape(-1, SHAPE_PARAMETERS)


class Forecast:
    """What readings would do to the uncertainties, at the present linearisation: known before they are taken."""

    def __init__(self, adjustment: Adjustment, setup: MeasuringSetup, among: Collection[Feature]) -> None:
        self.counts = {reading.feature: reading.count for reading in adjustment.readings}
        self._setup = setup
        self._among = among
        self._covariance = adjustment.covariance
        _, self._jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup.edge_method)

    def u_shares(self, readings: Sequence[Feature], gradients: FloatArray) -> FloatArray:
        """u/T of each of the scaled `gradients` (n, 5) after these readings, shape (n,)."""
        covariance, read = self._covariance, dict(self.counts)
        for feature in readings:
            count = read.get(feature, 0)
            row, weight = self._jacobian[TEN_FEATURES.index(feature)], added_weight(feature, count, self._setup)
            spread = covariance @ row
            covariance = covariance - np.outer(spread, spread) * (weight / (1.0 + weight * float(row @ spread)))
            read[feature] = count + 1
        part = covariance[:SHAPE_PARAMETERS, :SHAPE_PARAMETERS]
        shares: FloatArray = np.sqrt(np.maximum((gradients @ part * gradients).sum(-1), 0.0))
        return shares

    def is_fine(self, readings: Sequence[Feature], gradients: FloatArray) -> bool:
        """Whether these readings would bring every u below half its tolerance: only then can a verdict fall."""
        return bool((self.u_shares(readings, gradients) <= LARGEST_U_SHARE).all())

    def shortest_plan(self, gradients: FloatArray) -> Feature | None:
        """First reading of the shortest plan that is fine; where none is, the last plan as far as it goes.

        The diagonals always come first: one alone tells little, so that greed would never buy the pair.
        """
        for missing in sorted(self._open_plans(), key=len):
            if self.is_fine(missing, gradients):
                return missing[0]
        return next((feature for feature in self._missing(PLANS[-1]) if feature in self._among), None)

    def steepest(self, gradients: FloatArray) -> Feature | None:
        """First of the readings, one or the rest of a plan, that most reduce the largest u/T, reading for reading."""
        single = [[f] for f in TEN_FEATURES if f in self._among and self.counts.get(f, 0) < MAX_COUNT]
        best, most = None, LEAST_GAIN
        present = _largest(self.u_shares((), gradients))
        for readings in (*single, *self._open_plans()):
            gain = math.log(present / _largest(self.u_shares(readings, gradients))) / len(readings)
            if gain > most:
                best, most = readings[0], gain
        return best

    def _open_plans(self) -> list[list[Feature]]:
        """What is left of each plan that can be followed to its end."""
        open_plans = [self._missing(plan) for plan in PLANS]
        return [missing for missing in open_plans if missing and all(feature in self._among for feature in missing)]

    def _missing(self, plan: Sequence[Feature]) -> list[Feature]:
        """What is left to read of a plan, in its order; a feature named twice is to be read twice."""
        left, missing = dict(self.counts), []
        for feature in plan:
            if left.get(feature, 0) > 0:
                left[feature] -= 1
            else:
                missing.append(feature)
        return missing


def _largest(u_shares: FloatArray) -> float:
    """The largest u/T, smoothed: where four corners are equally open, closing one of them counts as well."""
    return float(np.sum(u_shares**8) ** 0.125)


def added_weight(feature: Feature, count: int, setup: MeasuringSetup) -> float:
    """What one more reading adds to the weight of a feature read `count` times, in 1/mm^2 or 1/deg^2."""
    instrument, form = setup.instrument(feature), setup.form.of(feature.kind)
    present = 1.0 / instrument.mean_variance(count, form) if count else 0.0
    return 1.0 / instrument.mean_variance(count + 1, form) - present


def _again(
    adjustment: Adjustment,
    setup: MeasuringSetup,
    gradients: FloatArray,
    among: Collection[Feature],
) -> NextReading | None:
    """The feature read once whose largest unseen misreading would do most, if that is more than half a tolerance."""
    if not len(gradients):
        return None
    _, jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup.edge_method)
    worst, most = None, UNSEEN_SHARE
    for reading in adjustment.readings:
        if reading.count > 1 or reading.feature not in among:
            continue
        spread = adjustment.covariance @ jacobian[TEN_FEATURES.index(reading.feature)]
        moved = np.abs(gradients @ spread[:SHAPE_PARAMETERS]) / reading.sd**2
        unseen = math.inf if reading.smallest_detectable is None else reading.smallest_detectable
        share = float(moved.max()) * unseen
        if share > most:
            worst, most = reading.feature, share
    return NextReading(feature=worst, reason=NextReason.AGAIN) if worst else None

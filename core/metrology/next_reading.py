"""Which reading to take next: the one that would best settle what is open, or that could be wrong unseen.

Stage: after the verdict. In: adjustment, characteristics with their gradients, what has been read. Out: a feature and
why, or None when nothing more is worth asking for. Every forecast is made at the present linearisation: what a reading
would do to the covariance is known before it is taken.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence

import numpy as np

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, FloatArray
from core.metrology.characteristics import Measurand
from core.metrology.findings import NextReading, NextReason
from core.metrology.measuring_model import predicted_readings
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict

MAX_COUNT = 3  # nobody is asked for more repeats of one feature
LEAST_GAIN = 0.01  # a reading that shrinks the largest u/T by less is not worth the walk
UNSEEN_SHARE = 0.5  # of a tolerance that a misreading may move a characteristic unseen


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

    First what is suspect; then what settles squareness, what cross-checks it, what settles size; then what could be
    misread unseen.
    """
    counts = {reading.feature: reading.count for reading in adjustment.readings}
    for feature in suspects:
        if feature in among and counts.get(feature, 0) < MAX_COUNT:
            return NextReading(feature=feature, reason=NextReason.SUSPECT)
    wanted = None
    if (squareness := _undecided(judged, CharacteristicGroup.SQUARENESS)) is not None:
        wanted = _opening(counts, among) or _greedy(adjustment, setup, squareness, counts, among)
    if wanted is None and not cross_checked:
        wanted = _cross_check(counts, among)
    if wanted is None and (size := _undecided(judged, CharacteristicGroup.SIZE)) is not None:
        wanted = _greedy(adjustment, setup, size, counts, among)
    if wanted is not None:
        return NextReading(feature=wanted, reason=NextReason.AGAIN if wanted in counts else NextReason.FIRST)
    return _again(adjustment, setup, _scaled_gradients(pair[0] for pair in judged), among)


def _undecided(judged: Sequence[tuple[Measurand, Characteristic]], group: CharacteristicGroup) -> FloatArray | None:
    """Scaled gradients of what is open in a group, None where nothing is: a single no-go settles all."""
    members = [pair for pair in judged if pair[1].group is group]
    if any(characteristic.verdict is Verdict.NO_GO for _, characteristic in members):
        return None
    return _scaled_gradients(m for m, characteristic in members if characteristic.verdict is Verdict.UNDECIDED)


def _scaled_gradients(measurands: Iterable[Measurand]) -> FloatArray | None:
    """Gradients over tolerance, shape (m, 5), of those that have a limit; None where none has."""
    scaled = [measurand.gradient / measurand.limit for measurand in measurands if measurand.limit is not None]
    return np.array(scaled) if scaled else None


def _opening(counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """One diagonal alone tells little, so greed would never buy the pair: diagonals, then edges."""
    for feature in DIAGONALS + EDGES:
        if feature in among and feature not in counts:
            return feature
    return None


def _greedy(
    adjustment: Adjustment,
    setup: MeasuringSetup,
    gradients: FloatArray,
    counts: dict[Feature, int],
    among: Collection[Feature],
) -> Feature | None:
    """The reading that most reduces the largest u/T among what is open, if it reduces it at all."""
    _, jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup.edge_method)
    covariance = adjustment.covariance
    shares_squared = np.einsum("ij,jk,ik->i", gradients, covariance[:5, :5], gradients)
    best, least = None, _largest(shares_squared) * (1.0 - LEAST_GAIN)
    for row, feature in enumerate(TEN_FEATURES):
        count = counts.get(feature, 0)
        if feature not in among or count >= MAX_COUNT:
            continue
        spread = covariance @ jacobian[row]
        gain = added_weight(feature, count, setup)
        drops = gain * (gradients @ spread[:5]) ** 2 / (1.0 + gain * float(jacobian[row] @ spread))
        largest = _largest(shares_squared - drops)
        if largest < least:
            best, least = feature, largest
    return best


def _largest(shares_squared: FloatArray) -> float:
    """The largest u/T, smoothed: where four corners are equally open, closing one of them counts as well."""
    return float(np.sum(shares_squared**4) ** 0.125)


def added_weight(feature: Feature, count: int, setup: MeasuringSetup) -> float:
    """What one more reading adds to the weight of a feature read `count` times, in 1/mm^2 or 1/deg^2."""
    instrument, form = setup.instrument(feature), setup.form.of(feature.kind)
    present = 1.0 / instrument.mean_variance(count, form) if count else 0.0
    return 1.0 / instrument.mean_variance(count + 1, form) - present


def _cross_check(counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """The shorter way to know that no diagonal was misread: the corners still missing, or both diagonals again."""
    corners = [feature for feature in CORNERS if feature not in counts]
    diagonals = [feature for feature in DIAGONALS for _ in range(2 - min(counts.get(feature, 0), 2))]
    ways = [way for way in (diagonals, corners) if way and all(feature in among for feature in way)]
    return min(ways, key=len)[0] if ways else None


def _again(
    adjustment: Adjustment,
    setup: MeasuringSetup,
    gradients: FloatArray | None,
    among: Collection[Feature],
) -> NextReading | None:
    """The feature read once whose largest unseen misreading would do most, if that is more than half a tolerance."""
    if gradients is None:
        return None
    _, jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup.edge_method)
    worst, most = None, UNSEEN_SHARE
    for reading in adjustment.readings:
        if reading.count > 1 or reading.feature not in among:
            continue
        spread = adjustment.covariance @ jacobian[TEN_FEATURES.index(reading.feature)]
        moved = np.abs(gradients @ spread[:5]) / reading.sd**2
        unseen = math.inf if reading.smallest_detectable is None else reading.smallest_detectable
        share = float(moved.max()) * unseen
        if share > most:
            worst, most = reading.feature, share
    return NextReading(feature=worst, reason=NextReason.AGAIN) if worst else None

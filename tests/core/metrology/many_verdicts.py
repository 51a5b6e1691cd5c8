"""Verdicts of many simulated coupons at once, reading by reading: for tables of errors and of readings needed.

The decision is written here a second time, for arrays; `test_many_verdicts.py` holds it against the house's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import many_true_features
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjust_many import adjust_many
from core.metrology.evaluation import evaluate
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.metrology.verdict import Verdict
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, Linearity, random_truths, reading, shown_of

GO, UNDECIDED, NO_GO = 1, 0, -1
SETUP = MeasuringSetup()
COLUMN = {feature: column for column, feature in enumerate(TEN_FEATURES)}
Codes = NDArray[np.int_]


def perpendicularities(parameters: Array) -> tuple[Array, Array]:
    """Shorter side x cos(corner) at the four corners (m, 4), and gradients by the shape (m, 4, 5)."""
    values, jacobians = many_true_features(HOUSE_COUPON, parameters)
    side, angles = HOUSE_COUPON.shorter_side_mm, np.radians(values[:, 6:])
    return side * np.cos(angles), -side * np.sin(angles)[..., None] * np.radians(jacobians[:, 6:])


def decide(values: Array, u: Array, tolerance: float) -> Codes:
    """Guarded decision on each characteristic."""
    probability = ndtr((tolerance - values) / u) - ndtr((-tolerance - values) / u)
    codes = np.where(probability >= 0.95, GO, UNDECIDED)
    codes = np.where(np.abs(values) - 1.6448536269514722 * u > tolerance, NO_GO, codes)
    return np.where(u > tolerance / 2.0, UNDECIDED, codes)


def headline(codes: Codes) -> Codes:
    """No-go if any is, go if all are, else undecided; (m, n) to (m,)."""
    return np.where((codes == NO_GO).any(-1), NO_GO, np.where((codes == GO).all(-1), GO, UNDECIDED))


@dataclass(frozen=True)
class Batch:
    """Coupons with their truth and a store of readings: `shown` (m, repeats, 10)."""

    truth: Array
    shown: Array
    tolerance: float

    @property
    def true_values(self) -> Array:
        return perpendicularities(self.truth)[0]

    @property
    def good(self) -> NDArray[np.bool_]:
        return (np.abs(self.true_values) <= self.tolerance).all(-1)


def batch(coupons: int, seed: int, tolerance: float, linearity: Linearity = "uniform") -> Batch:
    """Random coupons with three readings of everything in store."""
    rng = np.random.default_rng(seed)
    truth = random_truths(rng, coupons, SETUP)
    return Batch(truth, shown_of(rng, truth, setup=SETUP, repeats=3, linearity=linearity), tolerance)


def at_the_limit(coupons: int, seed: int, tolerance: float, linearity: Linearity = "uniform") -> Batch:
    """Random coupons racked so that corner NL lies exactly at its limit, on either side."""
    rng = np.random.default_rng(seed)
    truth = random_truths(rng, coupons, SETUP)
    target = tolerance * rng.choice([-1.0, 1.0], coupons)
    for _ in range(8):
        values, gradients = perpendicularities(truth)
        truth[:, 2] += (target - values[:, 0]) / gradients[:, 0, 2]
    return Batch(truth, shown_of(rng, truth, setup=SETUP, linearity=linearity), tolerance)


def verdicts(coupons: Batch, counts: Codes) -> tuple[Codes, Codes]:
    """Codes of each characteristic (m, 4) and of the headline (m,) after the first `counts` (m, 10) readings.

    Inconsistent coupons are undecided.
    """
    taken = np.arange(coupons.shown.shape[1])[None, :, None] < counts[:, None, :]
    sums = np.where(taken, coupons.shown, 0.0).sum(axis=1)
    means = np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
    many = adjust_many(HOUSE_COUPON, means, SETUP, counts)
    values, gradients = perpendicularities(many.parameters)
    u = np.sqrt(np.einsum("mij,mjk,mik->mi", gradients, many.covariance[:, :5, :5], gradients))
    codes = np.where(many.consistent[:, None], decide(values, u, coupons.tolerance), UNDECIDED)
    return codes, headline(codes)


def cross_checked(counts: Codes) -> NDArray[np.bool_]:
    corners = (counts[:, [COLUMN[feature] for feature in CORNERS]] > 0).all(-1)
    diagonals = (counts[:, [COLUMN[feature] for feature in DIAGONALS]] > 1).all(-1)
    return corners | diagonals


DIAGONALS_EDGES = (*DIAGONALS, *EDGES, *DIAGONALS, *CORNERS, *EDGES, *DIAGONALS, *CORNERS)
PLAIN = (*EDGES, *DIAGONALS, *CORNERS, *EDGES, *DIAGONALS, *CORNERS)


def columns_of(order: Sequence[Feature], coupons: int) -> Codes:
    """One order of features for all coupons, as columns (m, steps)."""
    return np.tile([COLUMN[feature] for feature in order], (coupons, 1))


def random_orders(coupons: int, seed: int) -> Codes:
    """The ten in an order of its own for each coupon, then the ten again."""
    rng = np.random.default_rng(seed)
    return np.concatenate([rng.permuted(np.tile(np.arange(10), (coupons, 1)), axis=1) for _ in range(2)], axis=1)


def early_finish(coupons: Batch, columns: Codes) -> tuple[Codes, Codes]:
    """Readings needed until the headline is settled and cross-checked, and the headline then; in given orders.

    Coupons never settled need one more than all, and stay undecided.
    """
    m = len(coupons.truth)
    counts = np.zeros((m, len(TEN_FEATURES)), dtype=int)
    needed, final = np.full(m, columns.shape[1] + 1), np.zeros(m, dtype=int)
    open_ones = np.arange(m)
    for step in range(columns.shape[1]):
        counts[open_ones, columns[open_ones, step]] += 1
        part = Batch(coupons.truth[open_ones], coupons.shown[open_ones], coupons.tolerance)
        _, code = verdicts(part, counts[open_ones])
        settled = (code != UNDECIDED) & cross_checked(counts[open_ones])
        needed[open_ones[settled]], final[open_ones[settled]] = step + 1, code[settled]
        open_ones = open_ones[~settled]
        if not len(open_ones):
            break
    return needed, final


def house_finish(coupons: Batch, most: int = 20) -> tuple[Codes, Codes]:
    """The same in the order that the house asks for, by the house's own evaluation, coupon by coupon."""
    limits = Limits(source="own limits", perpendicularity_mm=coupons.tolerance)
    needed, final = np.full(len(coupons.truth), most + 1), np.zeros(len(coupons.truth), dtype=int)
    for k, shown in enumerate(coupons.shown):
        readings: list[Reading] = []
        evaluation = evaluate(HOUSE_COUPON, readings, limits, SETUP)
        while not evaluation.settled and evaluation.next_reading is not None and len(readings) < most:
            feature = evaluation.next_reading.feature
            repeat = sum(taken.feature is feature for taken in readings)
            readings.append(reading(feature, shown[repeat, COLUMN[feature]]))
            evaluation = evaluate(HOUSE_COUPON, readings, limits, SETUP)
        if evaluation.settled:
            needed[k], final[k] = len(readings), GO if evaluation.verdict is Verdict.GO else NO_GO
    return needed, final

"""How often the 95 % intervals contain the truth, over many simulated coupons.

`python tests/benchmarks/coverage_table.py` prints the table over 20,000 coupons; the suite runs a smaller seeded one.
"""

from __future__ import annotations

import numpy as np

from core.geometry.shape import many_true_features
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjust_many import adjust_many
from core.metrology.adjustment import EXPANSION_FACTOR
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, Linearity, simulate_many

SETUP = MeasuringSetup()
# Name, columns read (in the order of TEN_FEATURES), readings of each.
CASES = (("all ten", slice(0, 10), 1), ("six lengths", slice(0, 6), 1), ("all ten, three repeats", slice(0, 10), 3))
QUANTITIES = ("skew", "scale x", "scale y", "corner nl", "corner nr", "corner fr", "corner fl")


def functions_of(parameters: Array) -> tuple[Array, Array]:
    """Skew, scales and corners of many shapes, (m, 7), and their gradients by the five shape parameters, (m, 7, 5)."""
    b, g = parameters[:, 1], parameters[:, 2]
    length = np.hypot(g, 1.0 + b)
    values, gradients = np.empty((len(parameters), 7)), np.zeros((len(parameters), 7, 5))
    values[:, 0], values[:, 1], values[:, 2] = np.degrees(np.arctan2(g, 1.0 + b)), parameters[:, 0], length - 1.0
    gradients[:, 0, 1], gradients[:, 0, 2] = np.degrees(-g / length**2), np.degrees((1.0 + b) / length**2)
    gradients[:, 1, 0] = 1.0
    gradients[:, 2, 1], gradients[:, 2, 2] = (1.0 + b) / length, g / length
    features, jacobians = many_true_features(HOUSE_COUPON, parameters)
    values[:, 3:], gradients[:, 3:] = features[:, 6:], jacobians[:, 6:]
    return values, gradients


def coverage(coupons: int, seed: int, columns: slice, repeats: int, linearity: Linearity) -> tuple[Array, float]:
    """Share of intervals that contain the truth, for each of QUANTITIES, and share of coupons called inconsistent."""
    truth, means = simulate_many(
        np.random.default_rng(seed), coupons, setup=SETUP, repeats=repeats, linearity=linearity
    )
    unread = np.ones(10, dtype=bool)
    unread[columns] = False
    means[:, unread] = np.nan
    many = adjust_many(HOUSE_COUPON, means, SETUP, repeats)
    values, gradients = functions_of(many.parameters)
    true_values, _ = functions_of(truth)
    u = np.sqrt(np.einsum("mij,mjk,mik->mi", gradients, many.covariance[:, :5, :5], gradients))
    inside = np.abs(values - true_values) <= EXPANSION_FACTOR * u
    return inside.mean(axis=0), float(1.0 - many.consistent.mean())

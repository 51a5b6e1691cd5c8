"""How often the 95 % intervals contain the truth, over many simulated coupons.

`python tests/benchmarks/coverage_table.py` prints the table over 20,000 coupons; the suite runs a smaller seeded one.
"""

from __future__ import annotations

import numpy as np

from core.geometry.features import TEN_FEATURES
from core.geometry.shape import SHAPE_PARAMETERS, true_features
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, Linearity, random_truths, reading, shown_of

SETUP = MeasuringSetup()
# Name, columns read (in the order of TEN_FEATURES), readings of each.
CASES = (("all ten", slice(0, 10), 1), ("six lengths", slice(0, 6), 1), ("all ten, three repeats", slice(0, 10), 3))
QUANTITIES = ("skew", "scale x", "scale y", "corner nl", "corner nr", "corner fr", "corner fl")


def quantities_of(parameters: Array) -> Array:
    """Skew, scales and corners of a shape, (7,)."""
    b, g = parameters[1], parameters[2]
    corners = true_features(HOUSE_COUPON, parameters)[0][6:]
    return np.array([np.degrees(np.arctan2(g, 1.0 + b)), parameters[0], np.hypot(g, 1.0 + b) - 1.0, *corners])


def coverage(coupons: int, seed: int, columns: slice, repeats: int, linearity: Linearity) -> tuple[Array, float]:
    """Share of intervals that contain the truth, for each of QUANTITIES, and share of coupons called inconsistent."""
    rng = np.random.default_rng(seed)
    truth = random_truths(rng, coupons, SETUP)
    shown = shown_of(rng, truth, setup=SETUP, repeats=repeats, linearity=linearity)
    inside, alarms = np.zeros(len(QUANTITIES)), 0
    for true, taken in zip(truth, shown, strict=True):
        readings = [reading(TEN_FEATURES[k], values[k]) for values in taken for k in range(*columns.indices(10))]
        found = adjust(HOUSE_COUPON, readings, SETUP)
        values, jacobian = true_features(HOUSE_COUPON, found.parameters)
        corners = found.estimates(values[6:].tolist(), jacobian[6:, :SHAPE_PARAMETERS])
        expanded = np.array([e.U95 for e in (found.skew_deg, found.scale_x, found.scale_y, *corners)])
        inside += np.abs(quantities_of(found.parameters) - quantities_of(true)) <= expanded
        alarms += not found.consistent
    return inside / coupons, alarms / coupons

"""The two cursors: which length and which corner an indication would be taken for. Pure.

A cursor that the person set stays until its reading is in; otherwise it follows the next reading that the evaluation
asks for, and then the plain order: diagonals, edges, corners, the window where the coupon has one.
"""

from __future__ import annotations

from collections.abc import Collection

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, WINDOW, Feature
from core.metrology.evaluation import NextReading
from core.metrology.readings import Quantity

PLAIN_ORDER = DIAGONALS + EDGES + CORNERS + WINDOW


def cursor(
    coupon: Coupon,
    quantity: Quantity,
    chosen: Feature | None,
    asked: NextReading | None,
    taken: Collection[Feature],
) -> Feature | None:
    """The feature an indication of this quantity belongs to now; None when all are read and none is asked again."""
    is_length = quantity is Quantity.LENGTH
    if chosen is not None and chosen.is_length is is_length:
        return chosen
    if asked is not None and asked.feature.is_length is is_length:
        return asked.feature
    left = (feature for feature in PLAIN_ORDER if feature not in taken and coupon.has(feature))
    return next((feature for feature in left if feature.is_length is is_length), None)

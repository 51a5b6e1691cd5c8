"""The live comparison: an indication, before it is a reading, against the feature at its cursor.

Tells whether it can belong to the feature at all, whether it fits another one far better, and how it stands to the
feature's tolerance. Stage: between indication and reading. Units mm and degrees.
"""

import math
from collections.abc import Iterable
from enum import StrEnum
from functools import lru_cache

from core.geometry import Coupon, Feature, FeatureKind
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment
from core.metrology.readings import MM_PER_INCH
from core.metrology.tolerances import Limits
from core.metrology.verdict import GUARD_FACTOR

# A machine in use cuts within a few per cent; anything further off is jaws on their way (common practice).
PLAUSIBLE_SHARE = 0.05
PLAUSIBLE_FLOOR_MM = 3.0
PLAUSIBLE_CORNER_DEG = 10.0
# Questioned when another feature is at least this many times nearer, and the miss is larger than chance explains.
FAR_BETTER_RATIO = 5.0
FAR_BETTER_MISS_MM = 1.5
# Below this standard uncertainty the best-fit edges are a better guess at the diagonal than the drawing is.
KNOWN_SCALE = 0.005


class LiveState(StrEnum):
    """How the live indication compares with the tolerance of the feature at its cursor."""

    ABSENT = "absent"  # nothing came yet
    STALE = "stale"  # too old to be believed
    FAR = "far"  # outside the feature's plausible range: jaws on their way
    INSIDE = "inside"  # inside the limits by more than the guard band
    NEAR_LIMIT = "near-limit"  # inside the guard band: cannot be told
    OUTSIDE = "outside"
    UNJUDGED = "unjudged"  # plausible, but the feature has no limit of its own


# What is the same for all indications of a feature is worked out once: they come fifty times a second.
@lru_cache(maxsize=64)
def plausible_range(coupon: Coupon, feature: Feature) -> tuple[float, float]:
    """Lowest and highest value that can belong to this feature, in mm or degrees."""
    nominal = coupon.nominal(feature)
    if not feature.is_length:
        return nominal - PLAUSIBLE_CORNER_DEG, nominal + PLAUSIBLE_CORNER_DEG
    reach_mm = max(PLAUSIBLE_FLOOR_MM, PLAUSIBLE_SHARE * nominal)
    return nominal - reach_mm, nominal + reach_mm


def is_plausible(coupon: Coupon, feature: Feature, value: float) -> bool:
    """Whether the value lies in the feature's plausible range."""
    low, high = plausible_range(coupon, feature)
    return low <= value <= high


def is_inch_for_mm(coupon: Coupon, feature: Feature, value: float) -> bool:
    """Whether an implausible length would fit if its number meant inches."""
    return (
        feature.is_length
        and not is_plausible(coupon, feature, value)
        and is_plausible(coupon, feature, value * MM_PER_INCH)
    )


def square_value(coupon: Coupon, feature: Feature, adjustment: Adjustment | None) -> float:
    """What the feature would read on a square coupon: nominal, but diagonals follow the sizes as measured so far."""
    if feature.kind is not FeatureKind.DIAGONAL or adjustment is None:
        return coupon.nominal(feature)
    scale_x, scale_y = adjustment.scale_x, adjustment.scale_y
    if max(scale_x.u, scale_y.u) > KNOWN_SCALE:
        return coupon.nominal(feature)
    corner = Feature.NL if feature is Feature.NL_FR else Feature.NR
    legs = coupon.legs(corner)  # a seat is as long as it was designed, whatever became of the sides
    width_mm, height_mm = coupon.width_mm * (1.0 + scale_x.value), coupon.height_mm * (1.0 + scale_y.value)
    return math.hypot(width_mm - legs.along_x_mm, height_mm - legs.along_y_mm)


@lru_cache(maxsize=64)
def live_limit(coupon: Coupon, limits: Limits, feature: Feature) -> float | None:
    """Plus-minus tolerance of one feature by itself, mm or degrees; None where no limit reaches it.

    A perpendicularity limit T over the shorter side s allows a corner arcsin(T / s), and moves a diagonal D of a
    rectangle with the longer side l by l T / D: differentiate D² = W² + H² - 2 W H cos(corner), law of cosines.
    """
    shorter_mm, diagonal_mm = coupon.shorter_side_mm, coupon.diagonal_mm
    longer_mm = max(coupon.width_mm, coupon.height_mm)
    match feature.kind:
        case FeatureKind.EDGE:
            return limits.width_edge_mm if feature in (Feature.NEAR, Feature.FAR) else limits.height_edge_mm
        case FeatureKind.DIAGONAL:
            shares = [
                longer_mm * limits.perpendicularity_mm / diagonal_mm
                if limits.perpendicularity_mm is not None
                else None,
                limits.diagonal_mm / 2.0 if limits.diagonal_mm is not None else None,
            ]
        case FeatureKind.CORNER:
            shares = [
                math.degrees(math.asin(min(1.0, limits.perpendicularity_mm / shorter_mm)))
                if limits.perpendicularity_mm is not None
                else None,
                limits.corner_deg,
            ]
        case FeatureKind.WINDOW:
            return None
    return min((share for share in shares if share is not None), default=None)


@lru_cache(maxsize=64)
def _guard(coupon: Coupon, setup: MeasuringSetup, feature: Feature) -> float:
    """How far from its limit a single reading of the feature must be to be believed, mm or degrees."""
    form = setup.form.of(feature.kind, coupon)
    return GUARD_FACTOR * math.sqrt(setup.instrument(feature).mean_variance(1, form))


def compare(
    coupon: Coupon,
    limits: Limits,
    setup: MeasuringSetup,
    feature: Feature,
    value: float,
    adjustment: Adjustment | None,
) -> LiveState:
    """Stand of one fresh indication to the feature's tolerance, guarded on both sides as a single reading."""
    if not is_plausible(coupon, feature, value):
        return LiveState.FAR
    limit = live_limit(coupon, limits, feature)
    if limit is None:
        return LiveState.UNJUDGED
    deviation = abs(value - square_value(coupon, feature, adjustment))
    guard = _guard(coupon, setup, feature)
    if deviation <= limit - guard:
        return LiveState.INSIDE
    return LiveState.OUTSIDE if deviation > limit + guard else LiveState.NEAR_LIMIT


def better_fit(
    coupon: Coupon, feature: Feature, value: float, candidates: Iterable[Feature], adjustment: Adjustment | None
) -> Feature | None:
    """The candidate that this length fits far better than the feature at the cursor, None when the cursor is right.

    Corners all expect 90 degrees and are never told apart by one value.
    """
    if not feature.is_length:
        return None
    miss_mm = abs(value - square_value(coupon, feature, adjustment))
    if miss_mm <= FAR_BETTER_MISS_MM:
        return None
    misses = [
        (abs(value - square_value(coupon, other, adjustment)), other)
        for other in candidates
        if other.is_length and other is not feature and is_plausible(coupon, other, value)
    ]
    if not misses:
        return None
    best_mm, best = min(misses, key=lambda pair: pair[0])
    return best if best_mm * FAR_BETTER_RATIO < miss_mm else None

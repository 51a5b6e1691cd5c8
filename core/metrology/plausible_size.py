"""Whether the readings belong to a coupon of another size than the one that was entered.

Stage: before a judgement that would only call the readings contradictory. In: coupon and readings. Out: the size they
fit, or None. Thresholds are common practice: machines cut within a few per cent, so more is another coupon. A quarter
turn and inches taken for mm are left to the named explanations.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from core.geometry import DIAGONALS, Coupon, Feature
from core.metrology.readings import MM_PER_INCH, Reading

_ANOTHER_SIZE = 0.08
_LEAST_MM = 3.0  # a wide kerf can take a large share of a small coupon
_AGREE = 0.02


class LikelySize(Struct, frozen=True, kw_only=True):
    """The size the readings fit, in mm, and the first feature that says so."""

    width_mm: float
    height_mm: float
    feature: Feature


def likely_size(coupon: Coupon, readings: Sequence[Reading]) -> LikelySize | None:
    """The size the edges fit when it is clearly not that of `coupon`; None when it fits, or cannot be told."""
    means = {
        feature: sum(values) / len(values)
        for feature in Feature
        if (values := [reading.value for reading in readings if reading.feature is feature])
    }
    width_mm = _agreeing(means, Feature.NEAR, Feature.FAR)
    height_mm = _agreeing(means, Feature.LEFT, Feature.RIGHT)
    if width_mm is None or height_mm is None:
        return None
    wrong = [
        feature
        for feature, read_mm, nominal_mm in (
            (Feature.NEAR, width_mm, coupon.width_mm),
            (Feature.LEFT, height_mm, coupon.height_mm),
        )
        if abs(read_mm - nominal_mm) > max(_ANOTHER_SIZE * nominal_mm, _LEAST_MM)
    ]
    diagonal_mm = math.hypot(width_mm, height_mm)
    diagonals_fit = all(_near(means[feature], diagonal_mm, _AGREE) for feature in DIAGONALS if feature in means)
    if not wrong or not diagonals_fit or _has_a_name(coupon, width_mm, height_mm):
        return None
    return LikelySize(width_mm=width_mm, height_mm=height_mm, feature=wrong[0])


def _agreeing(means: dict[Feature, float], one: Feature, other: Feature) -> float | None:
    """Mean of two opposite edges where both are read and alike: a misreading is not a size."""
    if one not in means or other not in means or not _near(means[one], means[other], _AGREE):
        return None
    return (means[one] + means[other]) / 2.0


def _has_a_name(coupon: Coupon, width_mm: float, height_mm: float) -> bool:
    """True for what the named explanations explain better: a quarter turn, all lengths in inch."""
    return any(
        _near(width_mm, explained_width_mm, _AGREE) and _near(height_mm, explained_height_mm, _AGREE)
        for explained_width_mm, explained_height_mm in (
            (coupon.height_mm, coupon.width_mm),
            (coupon.width_mm / MM_PER_INCH, coupon.height_mm / MM_PER_INCH),
        )
    )


def _near(value: float, reference: float, relative: float) -> bool:
    return abs(value / reference - 1.0) <= relative

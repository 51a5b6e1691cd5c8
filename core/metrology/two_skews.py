"""Skew by lengths beside skew by corners: two ways to the same thing that share nothing but the edges.

Stage: after the adjustment. In: an Adjustment. Out: `TwoSkews`, each way's own estimate and how far they may differ.
Their difference is all that the readings can say of burnt corners and of diagonals taken for one another. The
covariance of two adjustments that share observations and priors: law of propagation (JCGM 100:2008, 5.2.2).
"""

import math
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

from core.geometry import CORNERS, DIAGONALS, SHAPE_PARAMETERS, TEN_FEATURES, skew_deg
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import (
    MAX_SHAPE_SDS,
    Adjustment,
    Estimate,
    estimate_of,
    solve_without,
)
from core.metrology.least_squares import Solution, least_squares_step
from core.metrology.measuring_model import SHAPE_PRIOR_SD, Means, Trust, priors_in_sds, trust
from core.numeric import FloatArray, np

LARGEST_U_DEG = math.degrees(0.1 * SHAPE_PRIOR_SD)  # beyond it most of the answer is the prior's
AGREEMENT_SDS = 2.58  # 99 %
ROUGHLY_SDS = 0.25  # of their difference: four times the most found in 6,500 simulated coupons so near the best fit
_STRAIGHT_SDS = 0.1  # of the shape's prior: within it slopes stay what they are
_SURELY_FINE = 0.8


class TwoSkews(Struct, frozen=True, kw_only=True):
    """Skew in degrees by lengths alone, by corners (and edges) alone, by everything; None where it cannot be had.

    `joint_u_deg` is the standard uncertainty of the difference of the two, None where one of them is missing.
    """

    lengths: Estimate | None
    corners: Estimate | None
    best_fit: Estimate
    joint_u_deg: float | None

    @property
    def disagree(self) -> bool:
        """The two differ by more than chance: never averaged away."""
        return self.differ(AGREEMENT_SDS)

    @property
    def unaveraged(self) -> Estimate:
        """By everything, but by lengths where the two disagree."""
        return self.lengths if self.disagree and self.lengths is not None else self.best_fit

    def differ(self, sds: float) -> bool:
        """Both are there and lie more than so many standard uncertainties of their difference apart."""
        if self.lengths is None or self.corners is None or self.joint_u_deg is None:
            return False
        return abs(self.lengths.value - self.corners.value) > sds * self.joint_u_deg


@lru_cache(maxsize=8)
def two_skews(adjustment: Adjustment, setup: MeasuringSetup) -> TwoSkews:
    """Both ways, as far as the features read allow; worked out once an adjustment."""
    read, best_fit = {reading.feature for reading in adjustment.readings}, adjustment.skew_deg
    corners, diagonals = bool(read & set(CORNERS)), bool(read & set(DIAGONALS))
    if not (corners and diagonals):
        only = _if_fine(best_fit)
        return TwoSkews(
            lengths=only if diagonals else None, corners=only if corners else None, best_fit=best_fit, joint_u_deg=None
        )
    known = trust(adjustment.coupon, setup)
    by_lengths = _way(known, *solve_without(adjustment, CORNERS, setup))
    by_corners = _way(known, *solve_without(adjustment, DIAGONALS, setup))
    lengths, angles = _if_fine(by_lengths.skew_deg), _if_fine(by_corners.skew_deg)
    joint = None
    if lengths is not None and angles is not None:
        joint = _joint_u_deg(by_lengths, by_corners, np.square(adjustment.means.sds), adjustment.means.rows)
    return TwoSkews(lengths=lengths, corners=angles, best_fit=best_fit, joint_u_deg=joint)


@lru_cache(maxsize=8)
def rough_skews(adjustment: Adjustment, setup: MeasuringSetup) -> TwoSkews:
    """Both ways by the slopes at the best fit alone, which spares their own adjustments: values, U95 and `joint_u_deg`
    good to ROUGHLY_SDS of the latter. What lies too far from the best fit for that, or is none, is that of `two_skews`.
    """
    means, solution, known = adjustment.means, adjustment.solution, trust(adjustment.coupon, setup)
    kept = _kept(means.rows)
    if kept.all(axis=1).any() or max(map(abs, solution.parameters.tolist())) > MAX_SHAPE_SDS:
        return two_skews(adjustment, setup)
    designs = kept[..., None] * solution.design
    steps, covariances = least_squares_step(
        designs, kept * solution.misclosure, -solution.parameters, priors_in_sds()[1]
    )
    if np.abs(steps[:, :SHAPE_PARAMETERS]).max() > _STRAIGHT_SDS:
        return two_skews(adjustment, setup)
    best_fit = adjustment.skew_deg
    gradient = skew_deg(adjustment.parameters)[1] * known.prior_sd[:SHAPE_PARAMETERS]
    by_priors = gradient @ covariances[:, :SHAPE_PARAMETERS]
    by_means = (designs @ by_priors[..., None])[..., 0]
    apart, variances = steps[:, :SHAPE_PARAMETERS] @ gradient, by_priors[:, :SHAPE_PARAMETERS] @ gradient
    of_hands = np.square(by_means / means.sds) @ means.learned
    lengths, corners = (
        estimate_of(best_fit.value + beyond, variance, of_hand, means.nus)
        for beyond, variance, of_hand in zip(apart.tolist(), variances.tolist(), of_hands, strict=True)
    )
    if max(lengths.u, corners.u) > _SURELY_FINE * LARGEST_U_DEG:
        return two_skews(adjustment, setup)
    of_priors, of_means = by_priors[0] - by_priors[1], by_means[0] - by_means[1]
    joint = math.sqrt(float(of_priors @ of_priors + of_means @ of_means))
    return TwoSkews(lengths=lengths, corners=corners, best_fit=best_fit, joint_u_deg=joint)


@lru_cache(maxsize=256)
def _kept(rows: tuple[int, ...]) -> FloatArray:
    """Which of some rows the way by lengths keeps, and which the way by corners: one or nothing (2, n)."""
    features = [TEN_FEATURES[row] for row in rows]
    return np.array([[float(feature not in left_out) for feature in features] for left_out in (CORNERS, DIAGONALS)])


def surely_agree(adjustment: Adjustment, setup: MeasuringSetup) -> bool:
    """Whether the two agree beyond doubt."""
    return not rough_skews(adjustment, setup).differ(AGREEMENT_SDS - ROUGHLY_SDS)


def _if_fine(skew: Estimate) -> Estimate | None:
    return skew if skew.u < LARGEST_U_DEG else None


class _Way(Struct, frozen=True, kw_only=True, eq=False):
    """One way's skew, what each of the ten readings does to it (10,), and what each prior, in its sd (8,)."""

    skew_deg: Estimate
    slopes: FloatArray
    prior_slopes: FloatArray


def _way(known: Trust, means: Means, solution: Solution) -> _Way:
    """The skew that some of the readings show, in units of the prior sd until the end."""
    value, gradient = skew_deg(known.prior_mean + known.prior_sd * solution.parameters)
    gradient = gradient * known.prior_sd[:SHAPE_PARAMETERS]
    priors = gradient @ solution.covariance[:SHAPE_PARAMETERS]
    of_means = solution.design @ priors / means.sds
    slopes = np.zeros(len(TEN_FEATURES))
    slopes[list(means.rows)] = of_means
    skew = estimate_of(
        value, float(priors[:SHAPE_PARAMETERS] @ gradient), (of_means * of_means) @ means.learned, means.nus
    )
    return _Way(skew_deg=skew, slopes=slopes, prior_slopes=priors)


def _joint_u_deg(by_lengths: _Way, by_corners: _Way, variances: FloatArray, rows: Sequence[int]) -> float:
    """Of the difference: both variances less twice what shared readings and shared priors make alike in both."""
    places = list(rows)
    alike = float(by_lengths.slopes[places] * variances @ by_corners.slopes[places])
    alike += float(by_lengths.prior_slopes @ by_corners.prior_slopes)
    return math.sqrt(max(by_lengths.skew_deg.u**2 + by_corners.skew_deg.u**2 - 2.0 * alike, 0.0))

"""Skew by lengths beside skew by corners: two ways to the same thing that share nothing but the edges.

Stage: after the adjustment. In: an Adjustment. Out: `TwoSkews`, each way's own estimate and how far they may differ.
Their difference is all that the readings can say of burnt corners and of diagonals taken for one another. The
covariance of two adjustments that share observations and priors: law of propagation (JCGM 100:2008, 5.2.2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from core.geometry.features import CORNERS, DIAGONALS, TEN_FEATURES
from core.geometry.shape import SHAPE_PARAMETERS, skew_deg
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, Estimate, FloatArray, adjust_without
from core.metrology.measuring_model import SHAPE_PRIOR_SD, trust

LARGEST_U_DEG = math.degrees(0.1 * SHAPE_PRIOR_SD)  # beyond it most of the answer is the prior's
AGREEMENT_SDS = 2.58  # 99 %


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSkews:
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
        if self.lengths is None or self.corners is None or self.joint_u_deg is None:
            return False
        return abs(self.lengths.value - self.corners.value) > AGREEMENT_SDS * self.joint_u_deg


def two_skews(adjustment: Adjustment, setup: MeasuringSetup) -> TwoSkews:
    """Both ways, as far as the features read allow."""
    read = {reading.feature for reading in adjustment.readings}
    corners, diagonals = read & set(CORNERS), read & set(DIAGONALS)
    by_lengths = adjust_without(adjustment, CORNERS, setup) if corners and diagonals else adjustment
    by_corners = adjust_without(adjustment, DIAGONALS, setup) if corners and diagonals else adjustment
    lengths = _if_fine(by_lengths.skew_deg) if diagonals else None
    angles = _if_fine(by_corners.skew_deg) if corners else None
    joint = _joint_u_deg(by_lengths, by_corners, setup) if lengths is not None and angles is not None else None
    return TwoSkews(lengths=lengths, corners=angles, best_fit=adjustment.skew_deg, joint_u_deg=joint)


def _if_fine(skew: Estimate) -> Estimate | None:
    return skew if skew.u < LARGEST_U_DEG else None


def _joint_u_deg(by_lengths: Adjustment, by_corners: Adjustment, setup: MeasuringSetup) -> float:
    """Of the difference: both variances less twice what shared readings and shared priors make alike in both."""
    prior_sd = trust(by_lengths.coupon, setup).prior_sd
    weights = np.where(prior_sd > 0.0, 1.0 / np.maximum(prior_sd, 1e-150) ** 2, 0.0)
    (of_lengths, slopes_l, prior_l), (of_corners, slopes_c, prior_c) = _parts(by_lengths), _parts(by_corners)
    variances = np.zeros(len(TEN_FEATURES))
    for adjustment in (by_lengths, by_corners):
        variances[list(adjustment.means.rows)] = np.array(adjustment.means.sds) ** 2
    alike = float(slopes_l * variances @ slopes_c + prior_l * weights @ prior_c)
    return math.sqrt(max(of_lengths + of_corners - 2.0 * alike, 0.0))


def _parts(adjustment: Adjustment) -> tuple[float, FloatArray, FloatArray]:
    """Variance of the skew, what each of the ten readings does to it (10,), and its covariance with all parameters."""
    gradient = skew_deg(adjustment.parameters)[1]
    slopes = np.zeros(len(TEN_FEATURES))
    slopes[list(adjustment.means.rows)] = gradient @ adjustment.gain[:SHAPE_PARAMETERS]
    return adjustment.skew_deg.u**2, slopes, gradient @ adjustment.covariance[:SHAPE_PARAMETERS]

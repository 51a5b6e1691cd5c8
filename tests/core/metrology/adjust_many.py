"""The adjustment of many coupons of one nominal size at once, vectorised: for simulations and archives.

Stage: as adjustment.py, same model and same results to 1e-6. In: mean readings of m coupons. Out: `ManyAdjustments`.
Plain Gauss-Newton on all together; the few coupons that need step control are solved one by one.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.stats import f

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES
from core.geometry.shape import SHAPE_PARAMETERS
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import MAX_SHAPE_SDS, REACH_SDS, solve
from core.metrology.hands import SET_NU
from core.metrology.least_squares import NEGLIGIBLE, TOLERANCE, least_squares_step
from core.metrology.measuring_model import PARAMETERS, Means, trust
from core.metrology.readings import Method, Quantity
from core.metrology.reliability import MIN_NU, redundancy_numbers
from core.metrology.trials import many_predicted_readings

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CHUNK = 2048  # coupons worked on together: their Jacobians stay in the processor's cache
MAX_TOGETHER = 8  # Gauss-Newton steps before a coupon is solved alone


class ManyAdjustments(Struct, frozen=True, kw_only=True, eq=False):
    """Adjustments of m coupons: parameters (m, 8) and covariance (m, 8, 8) in the order of PARAMETERS.

    `residuals` (adjusted less observed) and `redundancy` are (m, 10), NaN where a feature was not read; `chi_square`,
    `nu`, `converged` and `consistent` (m,).
    """

    parameters: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    redundancy: FloatArray
    chi_square: FloatArray
    nu: FloatArray
    converged: BoolArray
    consistent: BoolArray

    @property
    def skew_deg(self) -> tuple[FloatArray, FloatArray]:
        """Skew of every coupon and its standard uncertainty, in degrees, shapes (m,) and (m,)."""
        b, g = self.parameters[:, 1], self.parameters[:, 2]
        squared = g * g + (1.0 + b) ** 2
        by_b, by_g = -g / squared, (1.0 + b) / squared
        V = self.covariance
        variance = by_b**2 * V[:, 1, 1] + 2.0 * by_b * by_g * V[:, 1, 2] + by_g**2 * V[:, 2, 2]
        return np.degrees(np.arctan2(g, 1.0 + b)), np.degrees(np.sqrt(variance))


def adjust_many(
    coupon: Coupon, means: FloatArray, setup: MeasuringSetup, counts: NDArray[np.int_] | int = 1
) -> ManyAdjustments:
    """Adjust m coupons from their mean readings (m, 10) in mm and degrees, in the order of TEN_FEATURES.

    NaN marks a feature that was not read. `counts` says how many readings by cable each mean is made of, all of them
    equal: one number, (10,) or (m, 10).
    """
    counts = np.broadcast_to(counts, means.shape)
    chunks = [
        _adjust_chunk(coupon, means[first : first + CHUNK], counts[first : first + CHUNK], setup)
        for first in range(0, max(len(means), 1), CHUNK)
    ]
    return ManyAdjustments(
        **{name: np.concatenate([getattr(chunk, name) for chunk in chunks]) for name in ManyAdjustments.__slots__}
    )


def _adjust_chunk(
    coupon: Coupon, means: FloatArray, counts: NDArray[np.int_], setup: MeasuringSetup
) -> ManyAdjustments:
    known = trust(coupon, setup)
    read = ~np.isnan(means)
    parts, nus = _learned(read, counts, setup)
    sds = np.sqrt(parts + np.array(known.lasting))
    z, covariance, misclosure, design, converged = _solve_together(coupon, means, sds, setup)
    for alone in np.flatnonzero(~converged):
        rows = np.flatnonzero(read[alone])
        solution = solve(coupon, _one(means[alone], sds[alone], rows), setup)
        z[alone], covariance[alone], converged[alone] = solution.parameters, solution.covariance, solution.converged
        misclosure[alone], design[alone] = 0.0, 0.0
        misclosure[alone, rows], design[alone, rows] = solution.misclosure, solution.design
    chi_square = (misclosure**2).sum(-1) + (z[:, SHAPE_PARAMETERS:] ** 2).sum(-1)
    variances = np.einsum("...ii->...i", covariance)
    # The redundancy numbers of readings and all priors sum to the readings; those of the shape priors are left out.
    nu = read.sum(-1) - SHAPE_PARAMETERS + variances[:, :SHAPE_PARAMETERS].sum(-1)
    within_bounds = np.abs(z[:, :SHAPE_PARAMETERS]).max(-1) <= MAX_SHAPE_SDS
    redundancy = redundancy_numbers(design, covariance)
    by_row = np.where(read, redundancy * parts / sds**2, 0.0)
    doubt = (by_row[:, :6].sum(-1) ** 2 / nus[:, 0]) + (by_row[:, 6:].sum(-1) ** 2 / nus[:, 1])
    tested = np.maximum(nu, MIN_NU)
    nu_of_weights = np.where(doubt > 0.0, tested**2 / np.where(doubt > 0.0, doubt, 1.0), 1e12)
    passes = (nu < MIN_NU) | (chi_square <= tested * f.ppf(0.999, tested, np.minimum(nu_of_weights, 1e12)))
    return ManyAdjustments(
        parameters=known.prior_mean + known.prior_sd * z,
        covariance=known.prior_sd_products * covariance,
        residuals=np.where(read, -misclosure * sds, np.nan),
        redundancy=np.where(read, redundancy, np.nan),
        chi_square=chi_square,
        nu=nu,
        converged=converged,
        consistent=converged & within_bounds & passes,
    )


def _learned(read: BoolArray, counts: NDArray[np.int_], setup: MeasuringSetup) -> tuple[FloatArray, FloatArray]:
    """What equal repeats leave in each mean (m, 10), and the degrees of freedom of caliper and gauge (m, 2)."""
    parts, nus = np.ones(read.shape), np.ones((len(read), 2))
    for place, (columns, quantity) in enumerate(((slice(0, 6), Quantity.LENGTH), (slice(6, 10), Quantity.ANGLE))):
        instrument = setup.caliper if quantity is Quantity.LENGTH else setup.gauge
        repeats = np.where(read[:, columns], counts[:, columns] - 1, 0).sum(-1)
        nus[:, place] = SET_NU + repeats
        one = np.maximum(
            SET_NU * setup.set_variance(quantity, Method.CABLE) / nus[:, place], instrument.rounding_variance
        )
        parts[:, columns] = np.maximum(one[:, None] / np.maximum(counts[:, columns], 1), instrument.rounding_variance)
    return parts, nus


def _one(means: FloatArray, sds: FloatArray, rows: NDArray[np.intp]) -> Means:
    return Means(
        rows=tuple(rows.tolist()),
        values=means[rows],
        sds=tuple(sds[rows].tolist()),
        counts=(1,) * len(rows),
        learned=np.zeros((len(rows), 1)),
        nus=np.ones(1),
    )


def _solve_together(
    coupon: Coupon, means: FloatArray, sds: FloatArray, setup: MeasuringSetup
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, BoolArray]:
    """Full steps for all coupons at once: parameters in prior sds, covariance, misclosure, design, and who converged.

    Features not read get no weight. Coupons are left as they are once converged or once a step leads out of reach.
    """
    known = trust(coupon, setup)
    weights = np.where(np.isnan(means), 0.0, 1.0 / sds)
    observed = np.where(np.isnan(means), 0.0, means)
    ones = np.ones(len(PARAMETERS))
    m = len(means)
    z, last = np.zeros((m, len(PARAMETERS))), np.ones(m)
    covariance = np.empty((m, len(PARAMETERS), len(PARAMETERS)))
    misclosure, design = np.zeros((m, len(TEN_FEATURES))), np.zeros((m, len(TEN_FEATURES), len(PARAMETERS)))
    converged = np.zeros(m, dtype=bool)
    active = np.arange(m)
    for _ in range(MAX_TOGETHER):
        values, jacobian = many_predicted_readings(coupon, known.prior_mean + known.prior_sd * z[active], setup)
        weight = weights[active]
        closing = (observed[active] - values) * weight
        slopes = jacobian * known.prior_sd * weight[..., None]
        step, spread = least_squares_step(slopes, closing, -z[active], ones)
        size = np.abs(step).max(-1)
        z[active] += step
        done = (size <= NEGLIGIBLE) & (size * size <= TOLERANCE * last[active])
        finished = active[done]
        covariance[finished], design[finished], converged[finished] = spread[done], slopes[done], True
        misclosure[finished] = closing[done] - (slopes[done] @ step[done][..., None])[..., 0]
        going = ~done & (np.abs(z[active]).max(-1) < REACH_SDS)
        last[active] = size
        active = active[going]
        if not len(active):
            break
    return z, covariance, misclosure, design, converged

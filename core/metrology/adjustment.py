"""The weighted least-squares adjustment of a coupon's readings: five shape and three instrument parameters.

Stage: readings to shape. In: coupon, readings, measuring setup. Out: `Adjustment`, the estimate of the true shape with
its covariance, and what the readings say of one another. The model is that of measuring_model.py; readings of a window
are not part of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.shape import SHAPE_PARAMETERS, mean_y_direction
from core.metrology.accuracy import MeasuringSetup
from core.metrology.least_squares import Solution, gauss_newton, least_squares_step
from core.metrology.measuring_model import PARAMETERS, Means, Trust, mean_readings, predicted_readings, trust
from core.metrology.readings import Reading
from core.metrology.reliability import (
    detection_factor,
    global_test_passes,
    redundancy_numbers,
    smallest_detectable,
    smallest_detectable_repeat,
    standardised_residual,
)

FloatArray = NDArray[np.float64]

MAX_SHAPE_SDS = 4.0
REACH_SDS = 8.0  # beyond twice that bound no coupon is looked for; within it edges cannot fold over
_ZERO, _ONE = np.zeros(len(PARAMETERS)), np.ones(len(PARAMETERS))
EXPANSION_FACTOR = 1.959963984540054  # 95 % of a normal distribution, two-sided


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its standard uncertainty."""

    value: float
    u: float

    @property
    def U95(self) -> float:  # noqa: N802 - the expanded uncertainty's symbol in the GUM
        """Expanded uncertainty, 95 %."""
        return EXPANSION_FACTOR * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustedReading:
    """One feature in the adjustment: mean of its `count` readings; residual = adjusted - observed; mm or degrees.

    `smallest_detectable` is the misreading that the other readings would show (None: none of any size), or, of a
    feature read more than once, the misreading of one that its fellows would show.
    """

    feature: Feature
    value: float
    count: int
    sd: float
    adjusted: float
    residual: float
    standardised_residual: float
    redundancy: float
    smallest_detectable: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """Result of an adjustment. `parameters` has shape (8,), `covariance` (8, 8), in the order of PARAMETERS.

    `chi_square` and `nu` are those of the global test; `consistent` is its outcome together with the bounds on the
    shape parameters and convergence.
    """

    coupon: Coupon
    parameters: FloatArray
    covariance: FloatArray
    readings: tuple[AdjustedReading, ...]
    chi_square: float
    nu: float
    converged: bool
    consistent: bool
    objective: float
    skew_deg: Estimate
    scale_x: Estimate
    scale_y: Estimate
    taper_x: Estimate
    taper_y: Estimate
    caliper_zero_mm: Estimate
    corner_loss_mm: Estimate
    gauge_zero_deg: Estimate

    def estimate(self, value: float, gradient: FloatArray) -> Estimate:
        """A function of the parameters with its standard uncertainty; gradient (5,) of the shape alone or (8,)."""
        return propagate(self.covariance, value, gradient)


def propagate(covariance: FloatArray, value: float, gradient: FloatArray) -> Estimate:
    """Estimate of a function of the parameters by the law of propagation (JCGM 100, 5.2); gradient (k,), k <= 8."""
    part = covariance[: len(gradient), : len(gradient)]
    return Estimate(value=value, u=math.sqrt(max(float(gradient @ part @ gradient), 0.0)))


def adjust(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> Adjustment:
    """Estimate shape and instrument parameters from any readings, none included; lengths in mm, angles in degrees.

    Contradictory readings are no error: the result then says `consistent` False.
    """
    known = trust(setup)
    means = mean_readings(readings, known)
    return _result(coupon, means, solve(coupon, means, setup), known)


def solve(coupon: Coupon, means: Means, setup: MeasuringSetup) -> Solution:
    """The least-squares solution in units of the prior sd: well conditioned, and a zero known exactly does not move."""
    known, sds, rows = trust(setup), np.array(means.sds), list(means.rows)
    scale = known.prior_sd / sds[:, None]

    def model(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        values, jacobian = predicted_readings(coupon, known.prior_mean + known.prior_sd * z, setup.edge_method)
        if len(rows) < len(TEN_FEATURES):
            values, jacobian = values[rows], jacobian[rows]
        return (means.values - values) / sds, jacobian * scale

    # The first step from the nominal shape is the same matrix for every coupon; not taken where it leads out of reason.
    predicted, gain = nominal_gain(coupon, setup, means.rows, means.sds)
    start: FloatArray = gain @ (means.values - predicted)
    if max(map(abs, start.tolist())) > MAX_SHAPE_SDS:
        start = _ZERO
    return gauss_newton(model, start, prior_mean=_ZERO, prior_weights=_ONE, reach=REACH_SDS)


@lru_cache(maxsize=64)
def nominal_gain(
    coupon: Coupon, setup: MeasuringSetup, rows: tuple[int, ...], sds: tuple[float, ...]
) -> tuple[FloatArray, FloatArray]:
    """Predicted readings (n,) of the nominal coupon and the matrix (8, n) from misclosures to parameters, in prior sds.

    The same for every coupon of a size with the same features read: the first Gauss-Newton step, worked out once.
    """
    known, chosen = trust(setup), list(rows)
    values, jacobian = predicted_readings(coupon, known.prior_mean, setup.edge_method)
    design = jacobian[chosen] * known.prior_sd / np.array(sds)[:, None]
    _, covariance = least_squares_step(design, np.zeros(len(rows)), _ZERO, _ONE)
    return values[chosen], covariance @ design.T / np.array(sds)


def _result(coupon: Coupon, means: Means, solution: Solution, known: Trust) -> Adjustment:
    """Everything that is said of a solution in units of the prior sd."""
    z, z_variances = solution.parameters.tolist(), solution.covariance.diagonal().tolist()
    chi_square = float(solution.misclosure @ solution.misclosure) + sum(part * part for part in z[SHAPE_PARAMETERS:])
    # The redundancy numbers of readings and all priors sum to the readings; those of the shape priors are left out.
    nu = len(means.rows) - SHAPE_PARAMETERS + sum(z_variances[:SHAPE_PARAMETERS])
    within_bounds = max(map(abs, z[:SHAPE_PARAMETERS])) <= MAX_SHAPE_SDS

    parameters = known.prior_mean + known.prior_sd * solution.parameters
    covariance = known.prior_sd_products * solution.covariance
    parameters.flags.writeable = False
    covariance.flags.writeable = False
    a, b, g, tx, ty, c0, cl, g0 = (
        Estimate(value=value, u=sd * math.sqrt(variance))
        for value, sd, variance in zip(parameters.tolist(), known.prior_sd.tolist(), z_variances, strict=True)
    )
    length, cos, sin = mean_y_direction(b.value, g.value)
    b_with_g = float(covariance[1, 2])
    return Adjustment(
        coupon=coupon,
        parameters=parameters,
        covariance=covariance,
        readings=_adjusted_readings(means, solution, nu),
        chi_square=chi_square,
        nu=nu,
        converged=solution.converged,
        consistent=solution.converged and within_bounds and global_test_passes(chi_square, nu),
        objective=solution.objective,
        skew_deg=Estimate(
            value=math.degrees(math.atan2(sin, cos)),
            u=math.degrees(_sd_of_sum(-sin * b.u, cos * g.u, -sin * cos * b_with_g) / length),
        ),
        scale_x=a,
        scale_y=Estimate(value=length - 1.0, u=_sd_of_sum(cos * b.u, sin * g.u, cos * sin * b_with_g)),
        taper_x=tx,
        taper_y=ty,
        caliper_zero_mm=c0,
        corner_loss_mm=cl,
        gauge_zero_deg=g0,
    )


def _sd_of_sum(first_sd: float, second_sd: float, covariance: float) -> float:
    return math.sqrt(max(first_sd * first_sd + second_sd * second_sd + 2.0 * covariance, 0.0))


def _adjusted_readings(means: Means, solution: Solution, nu: float) -> tuple[AdjustedReading, ...]:
    factor = detection_factor(nu)
    redundancy = redundancy_numbers(solution.design, solution.covariance).tolist()
    adjusted = []
    for place, (row, value, sd) in enumerate(zip(means.rows, means.values.tolist(), means.sds, strict=True)):
        r, count = redundancy[place], means.counts[place]
        residual = -sd * float(solution.misclosure[place])
        adjusted.append(
            AdjustedReading(
                feature=TEN_FEATURES[row],
                value=value,
                count=count,
                sd=sd,
                adjusted=value + residual,
                residual=residual,
                standardised_residual=standardised_residual(residual, sd, r),
                redundancy=r,
                smallest_detectable=smallest_detectable(sd, r, factor)
                if count == 1
                else smallest_detectable_repeat(means.repeat_sds[place], count),
            )
        )
    return tuple(adjusted)

"""The weighted least-squares adjustment of a coupon's readings: five shape and three instrument parameters.

Input: coupon, readings, measuring setup. Output: `Adjustment`, the estimate of the true shape with its covariance,
and what the readings say of one another. Predicted readings are

    edge      corner-to-corner length x cos(skew) + c0   (jaws seated on the neighbouring edges; tips: no cosine)
    diagonal  length + c0 - cl
    corner    angle + g0

with the caliper's zero c0, the corner loss cl and the gauge's zero g0. Readings of a window are not part of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.shape import SHAPE_PARAMETERS, scale_y, skew_deg, true_features
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.least_squares import Solution, gauss_newton
from core.metrology.readings import Method, Reading
from core.metrology.reliability import (
    global_test_passes,
    redundancy_numbers,
    smallest_detectable,
    standardised_residual,
)

FloatArray = NDArray[np.float64]

# Order of the parameter vector everywhere.
PARAMETERS = (
    "scale_a",
    "scale_b",
    "shear_g",
    "taper_x",
    "taper_y",
    "caliper_zero_mm",
    "corner_loss_mm",
    "gauge_zero_deg",
)
SHAPE_PRIOR_SD = 0.05  # each of the five; makes a half-measured coupon solvable, no more
CORNER_LOSS_PRIOR_SD_MM = 0.3
MAX_SHAPE_SDS = 4.0
_REACH_SDS = 8.0  # beyond twice that bound no coupon is looked for; within it edges cannot fold over
_LEAST_VARIANCE = 1e-18  # keeps a perfect instrument's weight finite
# Derivatives of the ten readings by c0, cl, g0: calipers' zero on lengths, corner loss off diagonals, gauge's zero.
_INSTRUMENT_JACOBIAN = np.array([[1.0, 0.0, 0.0]] * 4 + [[1.0, -1.0, 0.0]] * 2 + [[0.0, 0.0, 1.0]] * 4)
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
    """One feature in the adjustment: mean of its `count` readings; residual = adjusted - observed; mm or degrees."""

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Means:
    """Mean readings per feature: `rows` (n,) index into TEN_FEATURES; `values`, `sds`, `counts` (n,)."""

    rows: NDArray[np.intp]
    values: FloatArray
    sds: FloatArray
    counts: tuple[int, ...]


def mean_readings(readings: Sequence[Reading], setup: MeasuringSetup) -> Means:
    """Mean and standard deviation of each feature read; repeats shrink all of the variance but linearity and form.

    Repeats by different methods (cable, typed) are weighted by their own repeatability.
    """
    by_feature: dict[Feature, list[Reading]] = {}
    for reading in readings:
        by_feature.setdefault(reading.feature, []).append(reading)
    read = [(row, feature) for row, feature in enumerate(TEN_FEATURES) if feature in by_feature]
    values, sds, counts = [], [], []
    for _, feature in read:
        repeats = by_feature[feature]
        instrument = setup.instrument(feature)
        weights = [1.0 / max(repeat_variance(reading, setup), _LEAST_VARIANCE) for reading in repeats]
        total = sum(weights)
        values.append(sum(w * reading.value for w, reading in zip(weights, repeats, strict=True)) / total)
        sds.append(math.sqrt(1.0 / total + instrument.linearity**2 / 3.0 + setup.form.of(feature.kind) ** 2))
        counts.append(len(repeats))
    rows = np.array([row for row, _ in read], dtype=np.intp)
    return Means(rows=rows, values=np.array(values), sds=np.array(sds), counts=tuple(counts))


def repeat_variance(reading: Reading, setup: MeasuringSetup) -> float:
    """What repeats of this reading average out: repeatability and resolution."""
    instrument = setup.instrument(reading.feature)
    repeatability = instrument.repeatability
    if reading.method is Method.TYPED:
        repeatability = setup.typed_repeatability_mm if reading.feature.is_length else setup.typed_repeatability_deg
    return repeatability**2 + instrument.resolution**2 / 12.0


def predicted_readings(
    coupon: Coupon, parameters: FloatArray, edge_method: EdgeMethod
) -> tuple[FloatArray, FloatArray]:
    """What the instruments would say of a shape: values (10,) and Jacobian (10, 8), in the order of TEN_FEATURES."""
    values, shape_jacobian = true_features(coupon, parameters)
    if edge_method is EdgeMethod.SEATED:
        skew, gradient = skew_deg(parameters)
        cos, sin = math.cos(math.radians(skew)), math.sin(math.radians(skew))
        shape_jacobian[:4] = shape_jacobian[:4] * cos - np.outer(values[:4] * sin, np.radians(gradient))
        values[:4] *= cos
    values += _INSTRUMENT_JACOBIAN @ parameters[SHAPE_PARAMETERS:]
    return values, np.hstack([shape_jacobian, _INSTRUMENT_JACOBIAN])


def prior(setup: MeasuringSetup) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of the eight parameters before anything is read, shapes (8,) and (8,)."""
    mean = np.zeros(len(PARAMETERS))
    mean[SHAPE_PARAMETERS:] = setup.caliper.zero, 0.0, setup.gauge.zero
    sd = np.full(len(PARAMETERS), SHAPE_PRIOR_SD)
    sd[SHAPE_PARAMETERS:] = setup.caliper.zero_sd, CORNER_LOSS_PRIOR_SD_MM, setup.gauge.zero_sd
    return mean, sd


def adjust(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> Adjustment:
    """Estimate shape and instrument parameters from any readings, none included; lengths in mm, angles in degrees.

    Contradictory readings are no error: the result then says `consistent` False.
    """
    means = mean_readings(readings, setup)
    prior_mean, prior_sd = prior(setup)

    # Solved in units of the prior sd: well conditioned, and a zero known exactly (sd 0) simply does not move.
    def model(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        values, jacobian = predicted_readings(coupon, prior_mean + prior_sd * z, setup.edge_method)
        return values[means.rows], jacobian[means.rows] * prior_sd

    ones = np.ones(len(PARAMETERS))
    solution = gauss_newton(
        model, means.values, means.sds, 0.0 * ones, prior_weights=ones, step_scale=ones, reach=_REACH_SDS
    )
    redundancy = redundancy_numbers(solution.jacobian, solution.covariance, means.sds)
    residuals = solution.predicted - means.values
    z_instruments = solution.parameters[SHAPE_PARAMETERS:]
    chi_square = float(np.sum((residuals / means.sds) ** 2) + np.sum(z_instruments**2))
    nu = float(np.sum(redundancy) + np.sum(1.0 - np.diag(solution.covariance)[SHAPE_PARAMETERS:]))
    within_bounds = bool(np.all(np.abs(solution.parameters[:SHAPE_PARAMETERS]) <= MAX_SHAPE_SDS))
    return _result(
        coupon,
        solution,
        prior_mean + prior_sd * solution.parameters,
        np.outer(prior_sd, prior_sd) * solution.covariance,
        _adjusted_readings(means, solution, redundancy, nu),
        chi_square,
        nu,
        solution.converged and within_bounds and global_test_passes(chi_square, nu),
    )


def _adjusted_readings(
    means: Means, solution: Solution, redundancy: FloatArray, nu: float
) -> tuple[AdjustedReading, ...]:
    adjusted = []
    for place, row in enumerate(means.rows):
        value, sd, r = float(means.values[place]), float(means.sds[place]), float(redundancy[place])
        residual = float(solution.predicted[place]) - value
        adjusted.append(
            AdjustedReading(
                feature=TEN_FEATURES[row],
                value=value,
                count=means.counts[place],
                sd=sd,
                adjusted=float(solution.predicted[place]),
                residual=residual,
                standardised_residual=standardised_residual(residual, sd, r),
                redundancy=r,
                smallest_detectable=smallest_detectable(sd, r, nu),
            )
        )
    return tuple(adjusted)


def _result(
    coupon: Coupon,
    solution: Solution,
    parameters: FloatArray,
    covariance: FloatArray,
    readings: tuple[AdjustedReading, ...],
    chi_square: float,
    nu: float,
    consistent: bool,
) -> Adjustment:
    parameters.flags.writeable = False
    covariance.flags.writeable = False

    def single(index: int) -> Estimate:
        return Estimate(value=float(parameters[index]), u=math.sqrt(float(covariance[index, index])))

    return Adjustment(
        coupon=coupon,
        parameters=parameters,
        covariance=covariance,
        readings=readings,
        chi_square=chi_square,
        nu=nu,
        converged=solution.converged,
        consistent=consistent,
        objective=solution.objective,
        skew_deg=propagate(covariance, *skew_deg(parameters)),
        scale_x=single(0),
        scale_y=propagate(covariance, *scale_y(parameters)),
        taper_x=single(3),
        taper_y=single(4),
        caliper_zero_mm=single(5),
        corner_loss_mm=single(6),
        gauge_zero_deg=single(7),
    )

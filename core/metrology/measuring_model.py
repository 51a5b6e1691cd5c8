"""The measuring model: what the instruments would say of a shape, how far each reading is to be trusted, the priors.

Stage: before the adjustment. In: coupon, parameters, readings, measuring setup. Out: predicted readings with Jacobian,
mean readings with standard deviations. Predicted readings are

    edge      corner-to-corner length x cos(skew) + c0   (jaws seated on the neighbouring edges; tips: no cosine)
    diagonal  length + c0 - cl
    corner    angle + g0

with the caliper's zero c0, the corner loss cl and the gauge's zero g0.
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
from core.geometry.shape import SHAPE_PARAMETERS, Number, OfTwo, feature_rows, stacked
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.readings import Method, Reading

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
_LEAST_VARIANCE = 1e-18  # keeps a perfect instrument's weight finite
_ROW = {feature: row for row, feature in enumerate(TEN_FEATURES)}
# Derivatives of the ten readings by c0, cl, g0: calipers' zero on lengths, corner loss off diagonals, gauge's zero.
_INSTRUMENT_JACOBIAN = np.array([[1.0, 0.0, 0.0]] * 4 + [[1.0, -1.0, 0.0]] * 2 + [[0.0, 0.0, 1.0]] * 4)
_INSTRUMENT_COLUMNS = np.hstack([np.zeros((len(TEN_FEATURES), SHAPE_PARAMETERS)), _INSTRUMENT_JACOBIAN])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trust:
    """How far each reading and prior is to be trusted, of one measuring setup.

    `cable` and `typed` (10,) are the variances that repeats average out (repeatability, resolution), `lasting` (10,)
    those that they do not (linearity, form), in the order of TEN_FEATURES; `prior_mean` and `prior_sd` (8,) what is
    known of the parameters before anything is read; `prior_sd_products` (8, 8) each prior sd times each.
    """

    cable: tuple[float, ...]
    typed: tuple[float, ...]
    lasting: tuple[float, ...]
    prior_mean: FloatArray
    prior_sd: FloatArray
    prior_sd_products: FloatArray


@lru_cache(maxsize=32)
def trust(setup: MeasuringSetup) -> Trust:
    """The weights that follow from a measuring setup."""
    caliper, gauge = setup.caliper, setup.gauge
    mean = [0.0] * SHAPE_PARAMETERS + [caliper.zero, 0.0, gauge.zero]
    sd = [SHAPE_PRIOR_SD] * SHAPE_PARAMETERS + [caliper.zero_sd, CORNER_LOSS_PRIOR_SD_MM, gauge.zero_sd]
    return Trust(
        cable=tuple(repeat_variance(feature, Method.CABLE, setup) for feature in TEN_FEATURES),
        typed=tuple(repeat_variance(feature, Method.TYPED, setup) for feature in TEN_FEATURES),
        lasting=tuple(
            setup.instrument(feature).linearity ** 2 / 3.0 + setup.form.of(feature.kind) ** 2
            for feature in TEN_FEATURES
        ),
        prior_mean=np.array(mean),
        prior_sd=np.array(sd),
        prior_sd_products=np.outer(sd, sd),
    )


def repeat_variance(feature: Feature, method: Method, setup: MeasuringSetup) -> float:
    """What repeats of a reading average out: repeatability and resolution."""
    instrument = setup.instrument(feature)
    repeatability = instrument.repeatability
    if method is Method.TYPED:
        repeatability = setup.typed_repeatability_mm if feature.is_length else setup.typed_repeatability_deg
    return max(repeatability**2 + instrument.resolution**2 / 12.0, _LEAST_VARIANCE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Means:
    """Mean readings per feature: `rows` (n,) index into TEN_FEATURES; `values` and their `sds` (n,).

    `counts` are the readings in each mean, `repeat_sds` the standard deviation of the least careful of them.
    """

    rows: tuple[int, ...]
    values: FloatArray
    sds: tuple[float, ...]
    counts: tuple[int, ...]
    repeat_sds: tuple[float, ...]


def mean_readings(readings: Sequence[Reading], known: Trust) -> Means:
    """Mean and standard deviation of each feature read; repeats shrink all of the variance but linearity and form.

    Repeats by different methods (cable, typed) are weighted by their own repeatability. Window features are left out.
    """
    weights = [0.0] * len(TEN_FEATURES)
    largest = [0.0] * len(TEN_FEATURES)
    first = [math.nan] * len(TEN_FEATURES)  # sums are taken from the first reading on, so that one alone stays exact
    sums = [0.0] * len(TEN_FEATURES)
    counts = [0] * len(TEN_FEATURES)
    for reading in readings:
        row = _ROW.get(reading.feature)
        if row is not None:
            variance = (known.typed if reading.method is Method.TYPED else known.cable)[row]
            if not counts[row]:
                first[row] = reading.value
            counts[row] += 1
            weights[row] += 1.0 / variance
            sums[row] += (reading.value - first[row]) / variance
            largest[row] = max(largest[row], variance)
    rows = tuple(row for row, count in enumerate(counts) if count)
    return Means(
        rows=rows,
        values=np.array([first[row] + sums[row] / weights[row] for row in rows]),
        sds=tuple(math.sqrt(1.0 / weights[row] + known.lasting[row]) for row in rows),
        counts=tuple(counts[row] for row in rows),
        repeat_sds=tuple(math.sqrt(largest[row]) for row in rows),
    )


def predicted_readings(
    coupon: Coupon, parameters: FloatArray, edge_method: EdgeMethod
) -> tuple[FloatArray, FloatArray]:
    """What the instruments would say of a shape: values (10,) and Jacobian (10, 8), in the order of TEN_FEATURES."""
    a, b, g, tx, ty, c0, cl, g0 = parameters.tolist()
    values, rows = _reading_rows(coupon, (a, b, g, tx, ty), edge_method, math.hypot, math.atan2)
    errors = (c0, c0, c0, c0, c0 - cl, c0 - cl, g0, g0, g0, g0)
    jacobian = _INSTRUMENT_COLUMNS.copy()
    jacobian[:, :SHAPE_PARAMETERS] = rows
    return np.array([value + error for value, error in zip(values, errors, strict=True)]), jacobian


def many_predicted_readings(
    coupon: Coupon, parameters: FloatArray, edge_method: EdgeMethod
) -> tuple[FloatArray, FloatArray]:
    """The same for many shapes of one nominal size: parameters (m, 8) to values (m, 10) and Jacobians (m, 10, 8)."""
    a, b, g, tx, ty = np.ascontiguousarray(parameters[:, :SHAPE_PARAMETERS].T)
    columns, rows = _reading_rows(coupon, (a, b, g, tx, ty), edge_method, np.hypot, np.arctan2)
    values, slopes = stacked(columns, rows)
    jacobian = np.empty((len(parameters), len(TEN_FEATURES), len(PARAMETERS)))
    jacobian[..., :SHAPE_PARAMETERS] = slopes
    jacobian[..., SHAPE_PARAMETERS:] = _INSTRUMENT_JACOBIAN
    return values + parameters[:, SHAPE_PARAMETERS:] @ _INSTRUMENT_JACOBIAN.T, jacobian


def _reading_rows(
    coupon: Coupon,
    shape: tuple[Number, Number, Number, Number, Number],
    edge_method: EdgeMethod,
    hypot: OfTwo[Number],
    atan2: OfTwo[Number],
) -> tuple[list[Number], list[list[Number]]]:
    """Ten readings by perfect instruments and their derivatives by the shape; floats or arrays as in feature_rows."""
    values, rows = feature_rows(coupon, shape, hypot, atan2)
    if edge_method is EdgeMethod.SEATED:
        _, b, g, _, _ = shape
        length = hypot(g, 1.0 + b)
        cos, sin = (1.0 + b) / length, g / length
        by_b, by_g = sin * sin / length, -sin * cos / length  # derivatives of cos(skew)
        for edge in range(4):
            edge_mm, (da, db, dg, dtx, dty) = values[edge], rows[edge]
            rows[edge] = [da * cos, db * cos + edge_mm * by_b, dg * cos + edge_mm * by_g, dtx * cos, dty * cos]
            values[edge] = edge_mm * cos
    return values, rows

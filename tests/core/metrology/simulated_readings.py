"""Simulated coupons and readings for tests and tables: random truth, and instruments exactly as modelled.

Everything random comes from the generator handed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.metrology.accuracy import InstrumentAccuracy, MeasuringSetup
from core.metrology.measuring_model import CORNER_LOSS_PRIOR_SD_MM, predicted_readings
from core.metrology.readings import Reading, Unit
from core.metrology.trials import many_predicted_readings

Array = NDArray[np.float64]
HOUSE_COUPON = Coupon(width_mm=120.0, height_mm=80.0)
# What gantry machines do to a coupon: scales, tapers and a shear (skew sd about 0.6 degrees).
SHAPE_SD = np.array([0.002, 0.002, 0.01, 0.001, 0.001])
Linearity = Literal["normal", "uniform"]


def random_truth(rng: np.random.Generator, setup: MeasuringSetup, shape_sd: Array = SHAPE_SD) -> Array:
    """True parameters (8,): shape, and instruments drawn from their priors."""
    instrument_sd = [setup.caliper.zero_sd, CORNER_LOSS_PRIOR_SD_MM, setup.gauge.zero_sd]
    return np.concatenate([rng.normal(0.0, shape_sd), rng.normal(0.0, instrument_sd)])


def reading(feature: Feature, value: float) -> Reading:
    return Reading(feature=feature, value=float(value), unit=Unit.MM if feature.is_length else Unit.DEG)


def noisy(
    rng: np.random.Generator,
    true_value: float,
    feature: Feature,
    setup: MeasuringSetup,
    count: int,
    linearity: Linearity = "uniform",
    coupon: Coupon = HOUSE_COUPON,
) -> list[float]:
    """`count` indications of one feature: one form and one linearity error, repeatability anew, rounded as shown."""
    instrument: InstrumentAccuracy = setup.instrument(feature)
    if linearity == "uniform":
        scale_error = rng.uniform(-instrument.linearity, instrument.linearity)
    else:
        scale_error = rng.normal(0.0, instrument.linearity / np.sqrt(3.0))
    lasting = true_value + scale_error + rng.normal(0.0, setup.form.of(feature.kind, coupon))
    shown = lasting + rng.normal(0.0, instrument.repeatability, count)
    return [round(value / instrument.resolution) * instrument.resolution for value in shown]


def simulate(
    rng: np.random.Generator,
    truth: Array,
    *,
    coupon: Coupon = HOUSE_COUPON,
    setup: MeasuringSetup,
    features: Sequence[Feature] = TEN_FEATURES,
    repeats: int = 1,
    linearity: Linearity = "uniform",
) -> list[Reading]:
    """Readings of one coupon, feature by feature."""
    values, _ = predicted_readings(coupon, truth, setup)
    return [
        reading(feature, shown)
        for feature in features
        for shown in noisy(rng, values[TEN_FEATURES.index(feature)], feature, setup, repeats, linearity, coupon)
    ]


def random_truths(rng: np.random.Generator, coupons: int, setup: MeasuringSetup, shape_sd: Array = SHAPE_SD) -> Array:
    """True parameters (m, 8): as random_truth, many at once."""
    instrument_sd = [setup.caliper.zero_sd, CORNER_LOSS_PRIOR_SD_MM, setup.gauge.zero_sd]
    return rng.normal(0.0, np.concatenate([shape_sd, instrument_sd]), (coupons, 8))


def shown_of(
    rng: np.random.Generator, truth: Array, *, setup: MeasuringSetup, repeats: int = 1, linearity: Linearity = "uniform"
) -> Array:
    """Readings (m, repeats, 10) of many coupons, drawn as `simulate` draws them."""
    values, _ = many_predicted_readings(HOUSE_COUPON, truth, setup)
    instruments = [setup.instrument(feature) for feature in TEN_FEATURES]
    form = np.array([setup.form.of(feature.kind, HOUSE_COUPON) for feature in TEN_FEATURES])
    half_width = np.array([instrument.linearity for instrument in instruments])
    repeatability = np.array([instrument.repeatability for instrument in instruments])
    resolution = np.array([instrument.resolution for instrument in instruments])
    if linearity == "uniform":
        scale_error = rng.uniform(-half_width, half_width, values.shape)
    else:
        scale_error = rng.normal(0.0, half_width / np.sqrt(3.0), values.shape)
    lasting = values + scale_error + rng.normal(0.0, form, values.shape)
    shown = lasting[:, None, :] + rng.normal(0.0, repeatability, (len(truth), repeats, len(TEN_FEATURES)))
    return np.round(shown / resolution) * resolution


def simulate_many(
    rng: np.random.Generator,
    coupons: int,
    *,
    setup: MeasuringSetup,
    repeats: int = 1,
    linearity: Linearity = "uniform",
) -> tuple[Array, Array]:
    """True parameters (m, 8) and mean readings (m, 10) of many coupons."""
    truth = random_truths(rng, coupons, setup)
    return truth, shown_of(rng, truth, setup=setup, repeats=repeats, linearity=linearity).mean(axis=1)

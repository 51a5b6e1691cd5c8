"""The next coupon foretold, against machines cut from the shape and measured again."""

from __future__ import annotations

import numpy as np
import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.machine.prediction import predict_next
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import Reading, Unit

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SETUP = MeasuringSetup()


def unit_of(feature: Feature) -> Unit:
    return Unit.MM if feature.is_length else Unit.DEG


def measured(parameters: np.ndarray, rng: np.random.Generator | None = None) -> list[Reading]:
    """Readings of a coupon cut with these eight parameters, with the noise of the measuring model if asked."""
    values, _ = predicted_readings(COUPON, parameters, SETUP)
    readings = []
    for feature, value in zip(TEN_FEATURES, values, strict=True):
        sd = SETUP.instrument(feature).mean_variance(1, SETUP.form.of(feature.kind, COUPON)) ** 0.5
        noise = sd * rng.standard_normal() if rng else 0.0
        readings.append(Reading(feature=feature, value=float(value) + noise, unit=unit_of(feature)))
    return readings


def racked(skew_deg: float, a: float = 0.001, length_y: float = 0.999) -> np.ndarray:
    skew = np.radians(skew_deg)
    return np.array([a, length_y * np.cos(skew) - 1.0, length_y * np.sin(skew), 0.0005, -0.0004, 0.004, 0.1, 0.05])


def test_a_racked_machine_set_square_reads_as_foretold() -> None:
    predicted = predict_next(adjust(COUPON, measured(racked(0.6)), SETUP), SETUP, 0.0, 0.0)
    recut = {reading.feature: reading.value for reading in measured(racked(0.0))}
    for expected in predicted:
        assert expected.reading.value == pytest.approx(recut[expected.feature], abs=0.15 * expected.reading.u)


def test_what_the_adjuster_leaves_is_foretold_with_its_sign() -> None:
    adjustment = adjust(COUPON, measured(racked(-0.6)), SETUP)
    predicted = {item.feature: item.reading.value for item in predict_next(adjustment, SETUP, 0.2, 0.0)}
    assert predicted[Feature.NL_FR] - predicted[Feature.NR_FL] == pytest.approx(0.465, abs=0.01)  # 2 W H sin / D
    assert predicted[Feature.NL] == pytest.approx(90.0 - 0.2 + 0.05, abs=0.06)


def test_the_stated_uncertainty_covers_what_comes() -> None:
    rng = np.random.default_rng(20)
    inside = []
    for _ in range(300):
        true_deg = rng.normal(0.0, 0.5)
        adjustment = adjust(COUPON, measured(racked(true_deg), rng), SETUP)
        predicted = predict_next(adjustment, SETUP, 0.0, 0.0)
        after = racked(true_deg - adjustment.skew_deg.value)
        for expected, reading in zip(predicted, measured(after, rng), strict=True):
            inside.append(abs(reading.value - expected.reading.value) <= expected.reading.U95)
    assert 0.93 < np.mean(inside) < 0.97


def test_setting_uncertainty_widens_diagonals_and_corners_only() -> None:
    adjustment = adjust(COUPON, measured(racked(0.6)), SETUP)
    sharp = {item.feature: item.reading.u for item in predict_next(adjustment, SETUP, 0.0, 0.0)}
    blunt = {item.feature: item.reading.u for item in predict_next(adjustment, SETUP, 0.0, 0.1)}
    assert blunt[Feature.NL] > 1.1 * sharp[Feature.NL]
    assert blunt[Feature.NL_FR] > 1.2 * sharp[Feature.NL_FR]
    assert blunt[Feature.NEAR] == pytest.approx(sharp[Feature.NEAR], rel=1e-3)

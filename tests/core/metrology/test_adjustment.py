"""The adjustment against the model written a second time on scipy, and against what must be true of it."""

from collections.abc import Sequence

import numpy as np
import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.seats import equal_seats, keyed_seats
from core.metrology.accuracy import EdgeMethod, InstrumentAccuracy, MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import Method, Reading, Unit
from tests.core.metrology.scipy_model import adjust_with_scipy, model

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SEATED = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
SETUP = MeasuringSetup()


def reading(feature: Feature, value: float, method: Method = Method.CABLE) -> Reading:
    return Reading(feature=feature, value=float(value), unit=Unit.MM if feature.is_length else Unit.DEG, method=method)


def simulated(
    rng: np.random.Generator, coupon: Coupon, setup: MeasuringSetup, most_repeats: int, fewest_repeats: int = 0
) -> list[Reading]:
    truth = np.concatenate([rng.normal(0.0, 0.003, 5), rng.normal(0.0, [0.01, 0.1, 0.2])])
    values, _ = predicted_readings(coupon, truth, setup)
    return [
        reading(feature, value + rng.normal(0.0, 0.05))
        for feature, value in zip(TEN_FEATURES, values, strict=True)
        for _ in range(rng.integers(fewest_repeats, most_repeats + 1))
    ]


@pytest.mark.parametrize("seed", range(100))
def test_agrees_with_scipy_on_random_coupons(seed: int) -> None:
    rng = np.random.default_rng([3, seed])
    width, height = rng.uniform(60.0, 400.0, 2)
    seats = (None, equal_seats(width, height), keyed_seats(width, height))[seed % 3]
    coupon = Coupon(width_mm=width, height_mm=height, seats=seats)
    setup = MeasuringSetup(
        jaw_depth_mm=rng.uniform(0.0, 20.0),
        edge_method=EdgeMethod.TIPS if seed % 2 else EdgeMethod.SEATED,
        caliper=InstrumentAccuracy(resolution=0.01, repeatability=0.02, linearity=0.02, zero_sd=0.01, zero=-0.03),
    )
    readings = simulated(rng, coupon, setup, most_repeats=3)
    ours, theirs = adjust(coupon, readings, setup), adjust_with_scipy(coupon, readings, setup)
    assert ours.converged
    assert ours.consistent == theirs.consistent
    assert ours.skew_deg.value == pytest.approx(theirs.skew_deg, abs=1e-6)
    assert abs(ours.skew_deg.U95 - theirs.skew_expanded) < 1e-6
    assert ours.skew_deg.nu == pytest.approx(theirs.skew_nu, rel=1e-6)
    assert ours.nu_of_weights == pytest.approx(theirs.nu_of_weights, rel=1e-6)
    assert ours.scale_y.value == pytest.approx(theirs.scale_y, abs=1e-6)
    assert abs(ours.scale_y.U95 - theirs.scale_y_expanded) < 1e-6
    assert ours.chi_square == pytest.approx(theirs.chi_square, abs=1e-6)
    assert ours.nu == pytest.approx(theirs.nu, abs=1e-6)
    assert ours.parameters == pytest.approx(theirs.parameters, abs=1e-6)
    assert ours.covariance == pytest.approx(theirs.covariance, abs=1e-6)
    for adjusted in ours.readings:
        assert adjusted.redundancy == pytest.approx(theirs.redundancy[adjusted.feature.value], abs=1e-6)


@pytest.mark.parametrize("edge_method", list(EdgeMethod))
@pytest.mark.parametrize("coupon", [COUPON, SEATED], ids=["corners", "seats"])
def test_predicted_readings_and_jacobian_agree_with_the_second_model(edge_method: EdgeMethod, coupon: Coupon) -> None:
    rng = np.random.default_rng(4)
    parameters = np.concatenate([rng.normal(0.0, 0.01, 5), [0.02, 0.3, -0.2]])
    setup = MeasuringSetup(edge_method=edge_method)
    values, jacobian = predicted_readings(coupon, parameters, setup)
    assert values == pytest.approx(model(parameters, coupon, setup), abs=1e-10)
    for k, unit in enumerate(np.eye(8)):
        h = 1e-5
        slope = (model(parameters + h * unit, coupon, setup) - model(parameters - h * unit, coupon, setup)) / (2 * h)
        assert jacobian[:, k] == pytest.approx(slope, abs=1e-5)


def test_no_readings_leave_the_priors_and_nothing_to_test() -> None:
    adjustment = adjust(COUPON, [], SETUP)
    assert adjustment.consistent
    assert adjustment.nu == 0.0
    assert adjustment.chi_square == 0.0
    assert np.sqrt(np.diag(adjustment.covariance)) == pytest.approx([0.02] * 2 + [0.05] * 3 + [0.01, 0.3, 0.2])


@pytest.mark.parametrize("feature", TEN_FEATURES)
def test_a_single_reading_is_enough_to_solve(feature: Feature) -> None:
    adjustment = adjust(COUPON, [reading(feature, COUPON.nominal(feature) + 0.1)], SETUP)
    assert adjustment.converged
    assert adjustment.consistent
    assert len(adjustment.readings) == 1


def test_redundancy_numbers_sum_to_nu() -> None:
    readings = simulated(np.random.default_rng(5), COUPON, SETUP, most_repeats=1, fewest_repeats=1)
    adjustment = adjust(COUPON, readings, SETUP)
    priors = 3.0 - sum(
        estimate.u**2 / sd**2
        for estimate, sd in (
            (adjustment.caliper_zero_mm, 0.01),
            (adjustment.corner_loss_mm, 0.3),
            (adjustment.gauge_zero_deg, 0.2),
        )
    )
    assert adjustment.nu == pytest.approx(sum(r.redundancy for r in adjustment.readings) + priors, abs=1e-9)
    assert 5.0 < adjustment.nu < 5.1


def test_known_zeros_are_taken_off() -> None:
    shifted = MeasuringSetup(
        caliper=InstrumentAccuracy(resolution=0.01, repeatability=0.02, linearity=0.02, zero_sd=0.01, zero=0.5),
        gauge=InstrumentAccuracy(resolution=0.1, repeatability=0.1, linearity=0.1, zero_sd=0.2, zero=-1.5),
    )
    readings = simulated(np.random.default_rng(6), COUPON, SETUP, most_repeats=1, fewest_repeats=1)
    moved = [reading(r.feature, r.value + (0.5 if r.feature.is_length else -1.5)) for r in readings]
    plain, corrected = adjust(COUPON, readings, SETUP), adjust(COUPON, moved, shifted)
    assert corrected.parameters[:5] == pytest.approx(plain.parameters[:5], abs=1e-9)
    assert corrected.caliper_zero_mm.value == pytest.approx(plain.caliper_zero_mm.value + 0.5, abs=1e-7)
    assert corrected.chi_square == pytest.approx(plain.chi_square, abs=1e-7)


def test_a_zero_known_exactly_stays() -> None:
    exact = MeasuringSetup(caliper=InstrumentAccuracy(resolution=0.01, repeatability=0.02, linearity=0.02, zero_sd=0.0))
    adjustment = adjust(COUPON, simulated(np.random.default_rng(7), COUPON, SETUP, 1, 1), exact)
    assert adjustment.converged
    assert adjustment.caliper_zero_mm.value == 0.0
    assert adjustment.caliper_zero_mm.u == 0.0


def test_typed_readings_weigh_by_their_own_repeatability() -> None:
    setup = MeasuringSetup(typed_repeatability_mm=0.5)
    cable = adjust(COUPON, [reading(Feature.NEAR, 120.1)], setup).readings[0]
    typed = adjust(COUPON, [reading(Feature.NEAR, 120.1, Method.TYPED)], setup).readings[0]
    assert typed.sd == pytest.approx(np.sqrt(0.5**2 + 0.01**2 / 12 + 0.02**2 / 3 + 0.02**2))
    both = adjust(COUPON, [reading(Feature.NEAR, 120.0), reading(Feature.NEAR, 121.0, Method.TYPED)], setup).readings[0]
    assert both.count == 2
    assert 120.0 < both.value < 120.01
    assert both.sd < cable.sd < typed.sd


def test_a_blunder_makes_the_readings_inconsistent() -> None:
    readings = simulated(np.random.default_rng(8), COUPON, SETUP, 1, 1)
    assert adjust(COUPON, readings, SETUP).consistent
    misread: Sequence[Reading] = [
        reading(r.feature, r.value + 2.5) if r.feature is Feature.NL_FR else r for r in readings
    ]
    adjustment = adjust(COUPON, misread, SETUP)
    assert not adjustment.consistent
    worst = max(adjustment.readings, key=lambda r: abs(r.standardised_residual))
    assert abs(worst.standardised_residual) > 3.29


def test_a_shape_far_out_of_any_reason_is_inconsistent() -> None:
    adjustment = adjust(COUPON, [reading(f, 150.0) for f in (Feature.NEAR, Feature.FAR)], SETUP)
    assert not adjustment.consistent


def test_window_readings_are_left_alone() -> None:
    readings = [reading(Feature.NEAR, 120.1), reading(Feature.WINDOW_WIDTH, 60.0)]
    assert [r.feature for r in adjust(COUPON, readings, SETUP).readings] == [Feature.NEAR]

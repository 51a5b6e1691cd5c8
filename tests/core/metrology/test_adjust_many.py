"""Many coupons at once give the very results of each alone, whatever was read and however wrong it is."""

import numpy as np
import pytest

from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.adjustment import adjust
from tests.core.metrology.adjust_many import adjust_many
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, reading, simulate_many


def same_as_each_alone(means: Array, counts: np.ndarray, setup: MeasuringSetup) -> None:
    together = adjust_many(HOUSE_COUPON, means, setup, counts)
    skews, skew_u = together.skew_deg
    for k, (row, count) in enumerate(zip(means, np.broadcast_to(counts, means.shape), strict=True)):
        readings = [
            reading(feature, value)
            for feature, value, n in zip(TEN_FEATURES, row, count, strict=True)
            if not np.isnan(value)
            for _ in range(n)
        ]
        alone = adjust(HOUSE_COUPON, readings, setup)
        assert together.converged[k] == alone.converged
        assert together.consistent[k] == alone.consistent
        if not alone.converged:
            continue
        assert together.parameters[k] == pytest.approx(alone.parameters, abs=1e-6)
        assert together.covariance[k] == pytest.approx(alone.covariance, abs=1e-6)
        assert together.chi_square[k] == pytest.approx(alone.chi_square, rel=1e-7, abs=1e-6)
        assert together.nu[k] == pytest.approx(alone.nu, abs=1e-6)
        assert skews[k] == pytest.approx(alone.skew_deg.value, abs=1e-6)
        assert skew_u[k] == pytest.approx(alone.skew_deg.u, abs=1e-6)
        by_feature = {r.feature: r for r in alone.readings}
        for column, feature in enumerate(TEN_FEATURES):
            if feature in by_feature:
                assert together.residuals[k, column] == pytest.approx(by_feature[feature].residual, abs=1e-6)
                assert together.redundancy[k, column] == pytest.approx(by_feature[feature].redundancy, abs=1e-6)
            else:
                assert np.isnan(together.residuals[k, column])


@pytest.mark.parametrize("edge_method", list(EdgeMethod))
def test_all_ten_read(edge_method: EdgeMethod) -> None:
    setup = MeasuringSetup(edge_method=edge_method)
    _, means = simulate_many(np.random.default_rng(2), 60, setup=setup)
    same_as_each_alone(means, np.array(1), setup)


def test_any_features_read_any_number_of_times() -> None:
    setup = MeasuringSetup()
    rng = np.random.default_rng(3)
    _, means = simulate_many(rng, 150, setup=setup)
    means[rng.random(means.shape) < 0.5] = np.nan
    same_as_each_alone(means, rng.integers(1, 4, means.shape), setup)


def test_contradictory_readings() -> None:
    setup = MeasuringSetup()
    rng = np.random.default_rng(4)
    _, means = simulate_many(rng, 60, setup=setup)
    for row in means:
        row[rng.integers(10)] *= rng.choice([1.03, 0.5, 1.0 / 25.4])
    same_as_each_alone(means, np.array(1), setup)


def test_nothing_read_at_all() -> None:
    same_as_each_alone(np.full((2, 10), np.nan), np.array(1), MeasuringSetup())


def test_more_coupons_than_one_chunk_and_none() -> None:
    setup = MeasuringSetup()
    truth, means = simulate_many(np.random.default_rng(5), 5000, setup=setup)
    many = adjust_many(HOUSE_COUPON, means, setup)
    assert many.parameters.shape == (5000, 8)
    assert np.sqrt(np.mean((many.skew_deg[0] - np.degrees(np.arctan2(truth[:, 2], 1.0 + truth[:, 1]))) ** 2)) < 0.05
    assert adjust_many(HOUSE_COUPON, means[:0], setup).nu.shape == (0,)

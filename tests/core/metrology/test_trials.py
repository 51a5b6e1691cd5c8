"""What is tried out together comes out as it does alone: slips of every size, units mixed up, few readings and many."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, TEN_FEATURES
from core.geometry.seats import keyed_seats
from core.metrology.adjustment import adjust
from core.metrology.measuring_model import PARAMETERS, predicted_readings
from core.metrology.misreading_candidates import candidates
from core.metrology.readings import Reading
from core.metrology.trials import many_predicted_readings, solutions_that_fit
from tests.benchmarks.adjustment_speed import SETUP
from tests.core.metrology.simulated_readings import HOUSE_COUPON, random_truth, simulate

KEYED = replace(HOUSE_COUPON, seats=keyed_seats(HOUSE_COUPON.width_mm, HOUSE_COUPON.height_mm))


def read(coupon: Coupon, seed: int) -> list[Reading]:
    """A coupon read once or twice, some of its features or all, one reading off by anything from nothing to inches."""
    rng = np.random.default_rng(seed)
    readings = list(simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=coupon))
    readings += [replace(one, value=one.value + rng.normal(0.0, 0.02)) for one in readings if rng.random() < 0.4]
    kept = [one for one in readings if one.feature in DIAGONALS or rng.random() < 0.8]
    place = int(rng.integers(len(kept)))
    off = kept[place].value
    slip = [off + 10.0 ** rng.uniform(-2, 1.3), off / 25.4, 90.0 - off, off * 10.0, off][int(rng.integers(5))]
    kept[place] = replace(kept[place], value=slip)
    return kept


@pytest.mark.parametrize("coupon", [HOUSE_COUPON, KEYED], ids=["without seats", "keyed"])
@pytest.mark.parametrize("seed", range(12))
def test_together_is_as_alone(coupon: Coupon, seed: int) -> None:
    readings = read(coupon, seed)
    tried = [candidate.readings for candidate in candidates(coupon, readings)]
    together = solutions_that_fit(coupon, tried, SETUP)
    fitting = 0
    for one, found in zip(tried, together, strict=True):
        alone = adjust(coupon, one, SETUP)
        assert (found is not None) == alone.consistent
        if found is not None:
            fitting += 1
            assert found.objective == pytest.approx(alone.objective, rel=1e-6, abs=1e-9)
            assert found.parameters == pytest.approx(alone.solution.parameters, abs=1e-6)
            assert found.misclosure == pytest.approx(alone.solution.misclosure, abs=1e-5)
            assert found.design == pytest.approx(alone.solution.design, rel=1e-5, abs=1e-5)
            assert found.covariance == pytest.approx(alone.solution.covariance, rel=1e-4, abs=1e-9)
    assert fitting


def test_nothing_tried_is_nothing_found() -> None:
    assert solutions_that_fit(HOUSE_COUPON, [], SETUP) == []


def test_many_shapes_are_read_as_each_is_alone() -> None:
    rng = np.random.default_rng(3)
    shapes = np.concatenate([rng.normal(0.0, 0.01, (6, 5)), rng.normal(0.0, 0.05, (6, len(PARAMETERS) - 5))], axis=1)
    for coupon in (HOUSE_COUPON, KEYED):
        values, jacobians = many_predicted_readings(coupon, shapes, SETUP)
        assert values.shape == (6, len(TEN_FEATURES))
        for shape, value, jacobian in zip(shapes, values, jacobians, strict=True):
            alone = predicted_readings(coupon, shape, SETUP)
            assert value == pytest.approx(alone[0], abs=1e-12)
            assert jacobian == pytest.approx(alone[1], abs=1e-9)

"""The tests' constants looked up are those computed, and nothing is claimed where nothing can be tested."""

import math

import numpy as np
import pytest

from core.metrology.distributions import chi_square_quantile, noncentrality
from core.metrology.reliability import (
    critical_chi_square,
    detection_factor,
    global_test_passes,
    redundancy_numbers,
    smallest_detectable,
    standardised_residual,
)


@pytest.mark.parametrize("nu", [0.5, 0.83, 1.0, 3.7, 5.03, 9.9, 13.99, 14.0, 40.0])
def test_constants_looked_up_are_those_computed(nu: float) -> None:
    assert critical_chi_square(nu) == pytest.approx(chi_square_quantile(0.999, nu), rel=1e-8)
    assert detection_factor(nu) == pytest.approx(math.sqrt(noncentrality(nu)), rel=1e-8)


def test_below_half_a_degree_of_freedom_there_is_no_test() -> None:
    assert global_test_passes(1e9, 0.49)
    assert not global_test_passes(1e9, 0.5)
    assert detection_factor(0.49) is None


def test_what_nothing_controls_is_neither_flagged_nor_detectable() -> None:
    assert standardised_residual(5.0, 0.1, 0.001) == 0.0
    assert smallest_detectable(0.1, 0.001, 4.13) == math.inf
    assert smallest_detectable(0.1, 0.25, 4.0) == pytest.approx(0.8)


def test_two_equal_readings_of_one_thing_control_each_other_by_half() -> None:
    design = np.ones((2, 1))
    assert redundancy_numbers(design, np.array([[0.5]])) == pytest.approx([0.5, 0.5])

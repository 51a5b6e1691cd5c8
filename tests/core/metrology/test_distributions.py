"""The distributions against scipy over the range the program uses, and against tables."""

import math

import numpy as np
import pytest
from scipy import stats

from core.metrology.distributions import (
    chi_square_cdf,
    chi_square_quantile,
    f_cdf,
    noncentral_chi_square_cdf,
    noncentrality,
    normal_cdf,
    normal_quantile,
    normal_range_quantile,
)


def test_normal_agrees_with_scipy_in_both_tails() -> None:
    for x in np.linspace(-30.0, 8.0, 153):
        assert normal_cdf(x) == pytest.approx(stats.norm.cdf(x), rel=1e-12)
    for probability in (1e-9, 0.0005, 0.05, 0.5, 0.95, 0.9995, 1.0 - 1e-9):
        assert normal_quantile(probability) == pytest.approx(stats.norm.ppf(probability), abs=1e-12)


@pytest.mark.parametrize("nu", [0.1, 0.5, 0.97, 1.0, 2.5, 5.0, 8.7, 12.9, 40.0])
def test_chi_square_agrees_with_scipy(nu: float) -> None:
    for x in (1e-6, 0.1, 0.7 * nu, nu, 3.0 * nu, 30.0 + nu):
        assert chi_square_cdf(x, nu) == pytest.approx(stats.chi2.cdf(x, nu), rel=1e-10)
    for probability in (0.001, 0.05, 0.5, 0.95, 0.999):
        assert chi_square_quantile(probability, nu) == pytest.approx(stats.chi2.ppf(probability, nu), rel=1e-9)


@pytest.mark.parametrize("nu", [0.5, 1.0, 3.3, 5.0, 12.9])
def test_noncentral_chi_square_agrees_with_scipy(nu: float) -> None:
    for shift in (0.0, 0.3, 5.0, 17.0, 60.0):
        for x in (0.5, 3.0, 10.8, 25.0, 70.0):
            expected = stats.ncx2.cdf(x, nu, shift) if shift else stats.chi2.cdf(x, nu)
            assert noncentral_chi_square_cdf(x, nu, shift) == pytest.approx(expected, rel=1e-8, abs=1e-12)


def test_noncentrality_gives_the_power_it_promises() -> None:
    for nu in (0.5, 1.0, 2.2, 5.0, 9.0, 13.0):
        critical = stats.chi2.ppf(0.999, nu)
        assert stats.ncx2.sf(critical, nu, noncentrality(nu)) == pytest.approx(0.8, abs=1e-8)


def test_baardas_constants() -> None:
    # Baarda (1968): 3.2905 for a two-sided 0.1 % test; sqrt(lambda) 4.1321 at nu 1 and power 80 % (scipy).
    assert normal_quantile(0.9995) == pytest.approx(3.2905, abs=5e-5)
    assert math.sqrt(noncentrality(1.0)) == pytest.approx(4.13, abs=0.005)
    assert math.sqrt(noncentrality(5.0)) == pytest.approx(4.95, abs=0.005)


@pytest.mark.parametrize("count", [2, 3, 5, 10])
def test_range_of_repeats_agrees_with_scipy(count: int) -> None:
    for probability in (0.5, 0.95, 0.999):
        expected = stats.studentized_range.ppf(probability, count, np.inf)
        assert normal_range_quantile(probability, count) == pytest.approx(expected, abs=1e-4)


def test_range_of_two_is_the_difference_of_two() -> None:
    assert normal_range_quantile(0.999, 2) == pytest.approx(3.2905 * math.sqrt(2.0), abs=1e-4)


@pytest.mark.parametrize(("nu_1", "nu_2"), [(1, 1), (18, 60), (2, 300), (9, 4), (0.5, 7.5)])
def test_f_agrees_with_scipy(nu_1: float, nu_2: float) -> None:
    for x in (0.0, 1e-6, 0.1, 0.434, 1.0, 3.3, 50.0, 1e6):
        assert f_cdf(x, nu_1, nu_2) == pytest.approx(stats.f.cdf(x, nu_1, nu_2), abs=1e-12)

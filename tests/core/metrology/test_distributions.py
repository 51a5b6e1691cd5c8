"""The distributions against scipy over the range the program uses, and against tables."""

import math

import numpy as np
import pytest
from scipy import stats

from core.metrology import forecast, gauge_check, reliability, verdict
from core.metrology.distributions import (
    chi_square_cdf,
    chi_square_quantile,
    f_cdf,
    noncentral_chi_square_cdf,
    noncentrality,
    normal_cdf,
    normal_quantile,
    student_cdf,
    student_quantile,
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


@pytest.mark.parametrize("nu", [0.6, 1.0, 1.9, 2.0, 3.7, 6.0, 16.75, 57.3, 820.0, 9e5])
def test_students_t_agrees_with_scipy(nu: float) -> None:
    for x in (-40.0, -3.1, -0.2, 0.0, 0.7, 2.0, 12.0):
        assert student_cdf(x, nu) == pytest.approx(stats.t.cdf(x, nu), rel=1e-7, abs=1e-13)
    for probability in (0.8, 0.95, 0.975, 0.9995, 1.0 - 0.0005 / 12):
        assert student_quantile(probability, nu) == pytest.approx(stats.t.ppf(probability, nu), rel=1e-8)


def test_above_a_million_degrees_of_freedom_it_is_normal() -> None:
    assert student_quantile(0.975, math.inf) == normal_quantile(0.975)
    assert student_cdf(1.3, math.inf) == normal_cdf(1.3)
    assert student_quantile(0.9995, 1e6) == pytest.approx(normal_quantile(0.9995), rel=1e-5)


@pytest.mark.parametrize(
    ("nu", "published"), [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09)]
)
def test_table_g2_of_the_gum(nu: float, published: float) -> None:
    """JCGM 100:2008, table G.2, column of 95 %."""
    assert student_quantile(0.975, nu) == pytest.approx(published, abs=0.005)


@pytest.mark.parametrize(("nu_1", "nu_2"), [(1, 1), (18, 60), (2, 300), (9, 4), (0.5, 7.5)])
def test_f_agrees_with_scipy(nu_1: float, nu_2: float) -> None:
    for x in (0.0, 1e-6, 0.1, 0.434, 1.0, 3.3, 50.0, 1e6):
        assert f_cdf(x, nu_1, nu_2) == pytest.approx(stats.f.cdf(x, nu_1, nu_2), abs=1e-12)


@pytest.mark.parametrize(
    ("constant", "probability"),
    [
        (reliability.LOCAL_LIMIT, 1.0 - reliability.FALSE_ALARM / 2.0),
        (verdict.GUARD_FACTOR, verdict.REQUIRED_PROBABILITY),
        (gauge_check._LIMIT_SDS, 1.0 - 0.001 / 2.0),
        (forecast._WORTH_WHILE_SDS, 5.0 / 6.0),
        (forecast._WORTH_WHILE_BEYOND_SDS, 3.0 / 4.0),
    ],
)
def test_what_is_written_out_is_the_normal_quantile(constant: float, probability: float) -> None:
    """Written out, for working them out would load the library at each start."""
    assert constant == pytest.approx(normal_quantile(probability), rel=1e-15)

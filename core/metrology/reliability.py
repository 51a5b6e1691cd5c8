"""Reliability in the surveying sense: how well readings check one another, and what could pass unseen.

Input: residuals, redundancy numbers, standard deviations. Output: tests and smallest detectable misreadings.
Source: W. Baarda, A testing procedure for use in geodetic networks (1968); C. Ghilani, Adjustment Computations.
"""

import math
from collections.abc import Callable
from functools import cache

from core.metrology.distributions import (
    ALMOST_NORMAL_NU,
    chi_square_quantile,
    f_cdf,
    interpolating,
    noncentrality,
    polynomial,
)
from core.numeric import FloatArray, np

FALSE_ALARM = 0.001
POWER = 0.8
LOCAL_LIMIT = 3.2905267314919255  # the normal quantile of 1 - FALSE_ALARM / 2
MIN_REDUNDANCY = 0.001  # a reading less controlled than this cannot be tested at all
MIN_NU = 0.5  # no global test with less


# Between these the tests' constants are interpolated, outside computed: an adjustment of a coupon stays inside.
_TABLE_NU = (MIN_NU, 14.0)
_TABLE_ROOTS = (math.sqrt(_TABLE_NU[0]), math.sqrt(_TABLE_NU[1]))


@cache
def _table(constant: Callable[[float], float]) -> tuple[float, ...]:
    """The polynomial of a constant of the tests over sqrt(nu), good to 1e-10."""
    low, high = _TABLE_ROOTS
    return interpolating(lambda place: constant(((high + low + place * (high - low)) / 2.0) ** 2))


def _look_up(constant: Callable[[float], float], root_nu: float) -> float:
    """A constant of the tests; sqrt(nu) within the table."""
    low, high = _TABLE_ROOTS
    return polynomial(_table(constant), (2.0 * root_nu - high - low) / (high - low))


def critical_chi_square(nu: float) -> float:
    """The 0.1 % limit of the global test."""
    return _look_up(_exact_critical, math.sqrt(nu)) if _TABLE_NU[0] <= nu <= _TABLE_NU[1] else _exact_critical(nu)


def detection_factor(nu: float) -> float | None:
    """Misreading found with 80 % power, in sd / sqrt(redundancy): 4.13 at nu 1; None where there is no test."""
    if nu < MIN_NU:
        return None
    return _look_up(_exact_factor, math.sqrt(nu)) if _TABLE_NU[0] <= nu <= _TABLE_NU[1] else _exact_factor(nu)


def _exact_critical(nu: float) -> float:
    return chi_square_quantile(1.0 - FALSE_ALARM, nu)


def _exact_factor(nu: float) -> float:
    return math.sqrt(noncentrality(nu, FALSE_ALARM, POWER))


def redundancy_numbers(design: FloatArray, covariance: FloatArray) -> FloatArray:
    """Share of each observation that the others control, 0 to 1; shape (n,). Their sum is the redundancy.

    `design` (n, k) has each row divided by its standard deviation. Leading dimensions stand for many at once.
    """
    redundancy: FloatArray = np.maximum(1.0 - (design @ covariance * design).sum(-1), 0.0)
    return redundancy


def global_test_passes(chi_square: float, nu: float, nu_of_weights: float = math.inf) -> bool:
    """Whether the weighted sum of squares is below the 0.1 % limit; True where nothing can be tested.

    With weights known to `nu_of_weights` degrees of freedom only, chi_square / nu is an F variable, whose quantile lies
    above that of chi-square: most sums are let through by the cheaper one.
    """
    if nu < MIN_NU or chi_square <= critical_chi_square(nu):
        return True
    return nu_of_weights < ALMOST_NORMAL_NU and f_cdf(chi_square / nu, nu, nu_of_weights) <= 1.0 - FALSE_ALARM


def standardised_residual(residual: float, sd: float, redundancy: float) -> float:
    """Residual over its own standard deviation; 0 for a reading that nothing controls."""
    return residual / (sd * math.sqrt(redundancy)) if redundancy > MIN_REDUNDANCY else 0.0


def smallest_detectable(sd: float, redundancy: float, factor: float | None) -> float:
    """Misreading that the global test finds with 80 % power, by its detection factor; infinite where it finds none."""
    return math.inf if factor is None or redundancy <= MIN_REDUNDANCY else factor * sd / math.sqrt(redundancy)

"""Normal and chi-square distributions, central and non-central: what the tests and the verdict are judged against.

Numbers in, numbers out; the standard library only. Incomplete gamma function by series and continued fraction
(Abramowitz and Stegun 6.5.29 and 6.5.31); the non-central chi-square as a Poisson mixture (ibid. 26.4.25).
Tested against scipy.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from statistics import NormalDist

_STANDARD = NormalDist()
_EPSILON = 1e-16


def normal_cdf(x: float) -> float:
    """Probability that a standard normal variable is at most `x`; exact in both tails."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """The x whose `normal_cdf` is `probability`, strictly between 0 and 1."""
    return _STANDARD.inv_cdf(probability)


def gamma_cdf(shape: float, x: float) -> float:
    """Regularised lower incomplete gamma function P(shape, x), for shape > 0."""
    if x <= 0.0:
        return 0.0
    front = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    if x < shape + 1.0:
        term = total = 1.0 / shape
        k = shape
        while term > total * _EPSILON:
            k += 1.0
            term *= x / k
            total += term
        return front * total
    # Continued fraction for the upper tail, Lentz's method.
    b = x + 1.0 - shape
    c = 1e300
    d = 1.0 / b
    fraction = d
    for i in range(1, 10_000):
        step = -i * (i - shape)
        b += 2.0
        d = 1.0 / (step * d + b)
        c = b + step / c
        fraction *= d * c
        if abs(d * c - 1.0) < _EPSILON * 4:
            break
    return 1.0 - front * fraction


def chi_square_cdf(x: float, nu: float) -> float:
    """Probability that chi-square with `nu` degrees of freedom (not necessarily whole) is at most `x`."""
    return gamma_cdf(nu / 2.0, x / 2.0)


def noncentral_chi_square_cdf(x: float, nu: float, noncentrality: float) -> float:
    """The same with noncentrality lambda, the sum of squared means."""
    half_x, half_lambda = x / 2.0, noncentrality / 2.0
    if half_lambda == 0.0:
        return chi_square_cdf(x, nu)
    shape = nu / 2.0
    central = gamma_cdf(shape, half_x)
    # P(shape + 1, x) = P(shape, x) - x^shape exp(-x) / Gamma(shape + 1)
    drop = math.exp(shape * math.log(half_x) - half_x - math.lgamma(shape + 1.0))
    weight = math.exp(-half_lambda)
    total, used, j = 0.0, 0.0, 0
    while used < 1.0 - 1e-15 and j < 10_000:
        total += weight * central
        used += weight
        central -= drop
        j += 1
        drop *= half_x / (shape + j)
        weight *= half_lambda / j
    return total


@lru_cache(maxsize=4096)
def chi_square_quantile(probability: float, nu: float) -> float:
    """The x whose `chi_square_cdf` is `probability`."""
    # Wilson and Hilferty's approximation gives the neighbourhood.
    spread = 2.0 / (9.0 * nu)
    guess = nu * max(1.0 - spread + normal_quantile(probability) * math.sqrt(spread), 0.05) ** 3
    return _root(lambda x: chi_square_cdf(x, nu) - probability, guess)


@lru_cache(maxsize=4096)
def noncentrality(nu: float, false_alarm: float = 0.001, power: float = 0.8) -> float:
    """Noncentrality lambda found with the given power by a chi-square test with this probability of a false alarm.

    Its square root times a standard deviation is the smallest misreading that the test detects with that power
    (Baarda's reliability; 4.13 at nu 1 and 0.1 %).
    """
    critical = chi_square_quantile(1.0 - false_alarm, nu)
    return _root(lambda shift: (1.0 - noncentral_chi_square_cdf(critical, nu, shift)) - power, critical)


@lru_cache(maxsize=256)
def normal_range_quantile(probability: float, count: int) -> float:
    """The range (largest less smallest) that `count` standard normal values stay below with this probability.

    Distribution of the range: n integral of phi(z) (Phi(z + q) - Phi(z))^(n - 1) dz (Tippett 1925), by Simpson's rule.
    """

    def range_cdf(q: float) -> float:
        steps, reach = 400, 8.0
        width = (2.0 * reach + q) / steps
        total = 0.0
        for i in range(steps + 1):
            z = -reach - q + i * width
            density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
            weight = 1 if i in (0, steps) else 4 if i % 2 else 2
            total += weight * density * (normal_cdf(z + q) - normal_cdf(z)) ** (count - 1)
        return count * total * width / 3.0

    return _root(lambda q: range_cdf(q) - probability, 4.0)


def _root(rising: Callable[[float], float], guess: float) -> float:
    """Zero of a rising function of a positive variable: bracket about the guess, then bisect with secant steps."""
    low, high = guess / 2.0, guess * 2.0
    while rising(low) > 0.0:
        low /= 2.0
    while rising(high) < 0.0:
        high *= 2.0
    f_low, f_high = rising(low), rising(high)
    for count in range(200):
        inner = low + (high - low) * (0.5 if count % 3 == 2 else -f_low / (f_high - f_low))
        f_inner = rising(inner)
        if f_inner < 0.0:
            low, f_low = inner, f_inner
        else:
            high, f_high = inner, f_inner
        if high - low <= 1e-14 * high or f_inner == 0.0:
            break
    return low if -f_low < f_high else high


def f_cdf(x: float, nu_1: float, nu_2: float) -> float:
    """Probability that an F variable with `nu_1` and `nu_2` degrees of freedom is at most `x` (A. & S. 26.6.2)."""
    return beta_cdf(nu_1 / 2.0, nu_2 / 2.0, nu_1 * x / (nu_1 * x + nu_2)) if x > 0.0 else 0.0


def beta_cdf(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), by its continued fraction (A. & S. 26.5.8, Lentz's method)."""
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    if x > (a + 1.0) / (a + b + 2.0):  # the fraction converges fast on the other side only
        return 1.0 - beta_cdf(b, a, 1.0 - x)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    fraction = d
    for m in range(1, 10_000):
        change = 1.0
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 / (1.0 + term * d)
            c = 1.0 + term / c
            change = c * d
            fraction *= change
        if abs(change - 1.0) < _EPSILON * 4:
            break
    return math.exp(log_front) * fraction / a

"""Normal, chi-square, Student's t and F distributions: what the tests and the verdict are judged against.

Numbers in, numbers out; degrees of freedom need not be whole. Incomplete gamma function by series and continued
fraction (Abramowitz and Stegun 6.5.29 and 6.5.31), incomplete beta function by its continued fraction (ibid. 26.5.8);
the non-central chi-square as a Poisson mixture (ibid. 26.4.25). Tested against scipy.
"""

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from core.numeric import np

_EPSILON = 1e-16
# From here on Student's t is a normal distribution, and an F variable's denominator is known.
ALMOST_NORMAL_NU = 1e6
_TABLE_DEGREE, _NOTHING = 20, 1e-12  # of what is interpolated, and a coefficient that adds nothing
_NOTHING_LOG = -34.0  # of a probability below 2e-15


def normal_cdf(x: float) -> float:
    """Probability that a standard normal variable is at most `x`; exact in both tails."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """The x whose `normal_cdf` is `probability`, strictly between 0 and 1."""
    from statistics import NormalDist  # with fractions and random numbers, which no start needs

    return NormalDist().inv_cdf(probability)


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


def student_cdf(x: float, nu: float) -> float:
    """Probability that Student's t with `nu` degrees of freedom is at most `x` (A. & S. 26.7.1)."""
    if nu > ALMOST_NORMAL_NU:
        return normal_cdf(x)
    tail = _student_tail(x, nu)
    return tail if x < 0.0 else 1.0 - tail


def student_quantile(probability: float, nu: float) -> float:
    """The x whose `student_cdf` is `probability`, above one half; any `nu` at all, normal above a million.

    Interpolated between 2 degrees of freedom and infinitely many (the logarithm over 1/nu is smooth), good to 1e-9.
    """
    if nu > ALMOST_NORMAL_NU:
        return normal_quantile(probability)
    if nu < 2.0:
        return _exact_student_quantile(probability, nu)
    return math.exp(polynomial(_student_table(probability), 4.0 / nu - 1.0))


@lru_cache(maxsize=64)
def _student_table(probability: float) -> tuple[float, ...]:
    """The polynomial of the quantile's logarithm over 1/nu from 0 to 1/2."""
    return interpolating(lambda place: math.log(_exact_student_quantile(probability, 4.0 / (1.0 + place))))


def interpolating(function: Callable[[float], float]) -> tuple[float, ...]:
    """The polynomial, as `polynomial` takes it, that agrees with a smooth function at Chebyshev's points in -1 to 1."""
    chebyshev = np.polynomial.chebyshev
    points = chebyshev.chebpts1(_TABLE_DEGREE + 1)
    fitted = chebyshev.chebfit(points, [function(point) for point in points.tolist()], _TABLE_DEGREE)
    return tuple(chebyshev.cheb2poly(chebyshev.chebtrim(fitted, _NOTHING))[::-1].tolist())


def polynomial(coefficients: Sequence[float], x: float) -> float:
    """A polynomial at x, the coefficient of the highest power first, by Horner's rule."""
    total = 0.0
    for coefficient in coefficients:
        total = total * x + coefficient
    return total


def _exact_student_quantile(probability: float, nu: float) -> float:
    return _root(lambda x: 1.0 - probability - _student_tail(x, nu), 2.0)


def _student_tail(x: float, nu: float) -> float:
    """Of one side; nothing where it is below 2e-15: with one or more degrees of freedom and beyond x = 1 the tail is
    less than this power, as the continued fraction's front shows."""
    if x * x > 1.0 <= nu and -0.5 * nu * math.log1p(x * x / nu) < _NOTHING_LOG:
        return 0.0
    return beta_cdf(nu / 2.0, 0.5, nu / (nu + x * x)) / 2.0


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

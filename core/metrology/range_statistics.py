"""The range of normal samples: the constants that turn ranges into standard deviations.

In: sample sizes. Out: d2 and d3, mean and standard deviation of the range of n standard normal values, and d2* for the
mean of few ranges. Computed by integration (L. H. C. Tippett, Biometrika 17, 1925; A. J. Duncan for d2*), not tabled.
"""

import math
from functools import lru_cache

import numpy as np

from core.metrology.distributions import normal_cdf

# Beyond this the normal distribution's share is below 1e-18; the step leaves errors below 1e-7 of the result.
_REACH, _POINTS = 8.8, 801


@lru_cache(maxsize=64)
def range_moments(n: int) -> tuple[float, float]:
    """d2 and d3 of samples of `n`, n >= 2: mean and standard deviation of their range in units of one sd."""
    x = np.linspace(-_REACH, _REACH, _POINTS)
    step = x[1] - x[0]
    phi = np.array([normal_cdf(float(point)) for point in x])
    mean = float(np.sum(1.0 - phi**n - (1.0 - phi) ** n) * step)
    # E[R^2] = 2 x the integral over low < high of P(smallest <= low, largest > high).
    low, high = phi[:, np.newaxis], phi[np.newaxis, :]
    both = 1.0 - high**n - (1.0 - low) ** n + np.clip(high - low, 0.0, None) ** n
    weights = np.triu(np.ones((_POINTS, _POINTS)), 1) + 0.5 * np.eye(_POINTS)
    square = 2.0 * float(np.sum(both * weights)) * step**2
    return mean, math.sqrt(square - mean**2)


def d2_star(n: int, samples: int) -> float:
    """Divisor for the mean of `samples` ranges of `n` that makes its square unbiased; d2 itself above 15 samples."""
    d2, d3 = range_moments(n)
    return d2 if samples > 15 else math.sqrt(d2**2 + d3**2 / samples)

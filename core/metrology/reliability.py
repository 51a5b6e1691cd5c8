"""Reliability in the surveying sense: how well readings check one another, and what could pass unseen.

Input: residuals, redundancy numbers, standard deviations. Output: tests and smallest detectable misreadings.
Source: W. Baarda, A testing procedure for use in geodetic networks (1968); C. Ghilani, Adjustment Computations.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from core.metrology.distributions import chi_square_quantile, noncentrality, normal_quantile

FloatArray = NDArray[np.float64]

FALSE_ALARM = 0.001
LOCAL_LIMIT = normal_quantile(1.0 - FALSE_ALARM / 2.0)  # 3.29
MIN_REDUNDANCY = 0.001  # a reading less controlled than this cannot be tested at all
MIN_NU = 0.5  # no global test with less


def redundancy_numbers(jacobian: FloatArray, covariance: FloatArray, sd: FloatArray) -> FloatArray:
    """Share of each observation that the others control, 0 to 1; shape (n,). Their sum is the redundancy."""
    explained: FloatArray = np.einsum("ij,jk,ik->i", jacobian, covariance, jacobian) / sd**2
    return np.clip(1.0 - explained, 0.0, 1.0)


def global_test_passes(chi_square: float, nu: float) -> bool:
    """Whether the weighted sum of squares is below the 0.1 % limit; True where nothing can be tested."""
    return nu < MIN_NU or chi_square <= chi_square_quantile(1.0 - FALSE_ALARM, nu)


def standardised_residual(residual: float, sd: float, redundancy: float) -> float:
    """Residual over its own standard deviation; 0 for a reading that nothing controls."""
    return residual / (sd * math.sqrt(redundancy)) if redundancy > MIN_REDUNDANCY else 0.0


def smallest_detectable(sd: float, redundancy: float, nu: float) -> float | None:
    """Misreading that the global test finds with 80 % power; None where it finds none of any size."""
    if nu < MIN_NU or redundancy <= MIN_REDUNDANCY:
        return None
    return math.sqrt(noncentrality(nu)) * sd / math.sqrt(redundancy)

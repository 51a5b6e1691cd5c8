"""The weighted least-squares adjustment of a coupon's readings: five shape and three instrument parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.features import Feature

FloatArray = NDArray[np.float64]

# Order of the parameter vector everywhere.
PARAMETERS = (
    "scale_a",
    "scale_b",
    "shear_g",
    "taper_x",
    "taper_y",
    "caliper_zero_mm",
    "corner_loss_mm",
    "gauge_zero_deg",
)
EXPANSION_FACTOR = 1.959963984540054  # 95 % of a normal distribution, two-sided


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its standard uncertainty."""

    value: float
    u: float

    @property
    def U95(self) -> float:  # noqa: N802 - the expanded uncertainty's symbol in the GUM
        """Expanded uncertainty, 95 %."""
        return EXPANSION_FACTOR * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustedReading:
    """One feature in the adjustment: mean of its `count` readings; residual = adjusted - observed; mm or degrees."""

    feature: Feature
    value: float
    count: int
    sd: float
    adjusted: float
    residual: float
    standardised_residual: float
    redundancy: float
    smallest_detectable: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """Result of an adjustment. `parameters` has shape (8,), `covariance` (8, 8), in the order of PARAMETERS.

    `chi_square` and `nu` are those of the global test; `consistent` is its outcome together with the bounds on the
    shape parameters and convergence.
    """

    coupon: Coupon
    parameters: FloatArray
    covariance: FloatArray
    readings: tuple[AdjustedReading, ...]
    chi_square: float
    nu: float
    converged: bool
    consistent: bool
    objective: float
    skew_deg: Estimate
    scale_x: Estimate
    scale_y: Estimate
    taper_x: Estimate
    taper_y: Estimate
    caliper_zero_mm: Estimate
    corner_loss_mm: Estimate
    gauge_zero_deg: Estimate

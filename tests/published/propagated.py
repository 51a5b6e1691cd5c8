"""The law of propagation as every characteristic goes through it, for one function of published inputs."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from core.metrology.adjustment import Estimate, estimates


def propagated(
    covariance: np.ndarray,
    value: float,
    gradient: np.ndarray,
    learned: np.ndarray | None = None,
    nus: np.ndarray | None = None,
) -> Estimate:
    """`estimates` of a value; `learned` (q,) are the parts of its variance known with `nus` (q,) degrees of freedom."""
    parts = np.zeros(0) if learned is None else learned
    # One reading that moves the value by one, and has all that is learned.
    gain = (gradient / (gradient @ gradient))[:, None]
    means = SimpleNamespace(learned=parts[None, :], nus=np.zeros(0) if nus is None else nus)
    return estimates([value], gradient[None, :], covariance, gain, means)[0]

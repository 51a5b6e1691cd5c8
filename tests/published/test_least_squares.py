"""The weighted least-squares solver against published lines and curves; survey nets are in test_survey_nets.py.

Sources beside each. The solver is the one under every adjustment; only the models are written here. Where a source
gives no standard deviations beforehand (NIST), the covariance is scaled by the residuals here, in the test: the solver
never does that.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from core.metrology.least_squares import Solution, gauss_newton

Array = NDArray[np.float64]


def solved(model: Callable[[Array], tuple[Array, Array]], observed: Array, sd: Array | float, start: Array) -> Solution:
    """Weighted solution without priors; `model` gives predicted values (n,) and Jacobian (n, k)."""
    sds = np.broadcast_to(sd, observed.shape)

    def weighted(parameters: Array) -> tuple[Array, Array]:
        predicted, jacobian = model(parameters)
        return (observed - predicted) / sds, jacobian / sds[:, None]

    return gauss_newton(weighted, start, prior_mean=start, prior_weights=np.zeros(len(start)))


def line(x: Sequence[float]) -> Callable[[Array], tuple[Array, Array]]:
    jacobian = np.column_stack([np.ones(len(x)), x])
    return lambda p: (jacobian @ p, jacobian)


def scaled_by_residuals(solution: Solution) -> tuple[Array, float]:
    """Standard errors and residual standard deviation where the sd is not known beforehand."""
    residual_sd = math.sqrt(solution.objective / (len(solution.misclosure) - len(solution.parameters)))
    return np.sqrt(np.diag(solution.covariance)) * residual_sd, residual_sd


# NIST Statistical Reference Datasets, linear regression, NoInt1 and NoInt2: certified values.
@pytest.mark.parametrize(
    ("x", "y", "slope", "error", "residual_sd"),
    [
        (range(60, 71), range(130, 141), 2.07438016528926, 0.0165289256, 3.56753034),
        ((4, 5, 6), (3, 4, 4), 0.727272727272727, 0.042082732, 0.369274473),
    ],
)
def test_nist_lines_through_the_origin(
    x: Sequence[float], y: Sequence[float], slope: float, error: float, residual_sd: float
) -> None:
    jacobian = np.array(x, dtype=float)[:, None]
    solution = solved(lambda p: (jacobian @ p, jacobian), np.array(y, dtype=float), 1.0, np.zeros(1))
    errors, scatter = scaled_by_residuals(solution)
    assert solution.parameters == pytest.approx([slope], rel=1e-12)
    assert errors == pytest.approx([error], rel=1e-8)
    assert scatter == pytest.approx(residual_sd, rel=1e-8)


def test_nist_norris() -> None:
    # NIST Statistical Reference Datasets, linear regression, Norris: data and certified values.
    y = (
        "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 "
        "228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"
    )
    x = (
        "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 "
        "228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"
    )
    solution = solved(line([float(v) for v in x.split()]), np.array([float(v) for v in y.split()]), 1.0, np.zeros(2))
    errors, scatter = scaled_by_residuals(solution)
    assert solution.parameters == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert errors == pytest.approx([0.232818234301152, 4.29796848199937e-4], rel=1e-9)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-10)


def test_nist_danwood() -> None:
    # NIST Statistical Reference Datasets, nonlinear regression, DanWood, y = b1 x^b2: data, start, certified.
    x = np.array([1.309, 1.471, 1.490, 1.565, 1.611, 1.680])
    y = np.array([2.138, 3.421, 3.597, 4.340, 4.882, 5.660])

    def power(p: Array) -> tuple[Array, Array]:
        return p[0] * x ** p[1], np.column_stack([x ** p[1], p[0] * x ** p[1] * np.log(x)])

    solution = solved(power, y, 1.0, np.array([1.0, 5.0]))
    errors, scatter = scaled_by_residuals(solution)
    assert solution.converged
    assert solution.parameters == pytest.approx([0.76886226176, 3.8604055871], rel=1e-9)
    assert errors == pytest.approx([0.018281973860, 0.051726610913], rel=1e-6)
    assert scatter == pytest.approx(0.032853114039, rel=1e-8)


# ISO/TS 28037:2010, worked examples of straight lines (pp. 13-14), standard deviations known.
@pytest.mark.parametrize(
    ("y", "u", "parameters", "sds", "covariance", "chi_square"),
    [
        (
            (3.2, 4.3, 7.6, 8.6, 11.7, 12.8),
            (0.5, 0.5, 0.5, 1.0, 1.0, 1.0),
            (0.88523, 2.05696),
            (0.5297081, 0.1778920),
            -0.08227848,
            4.1308,
        ),
        ((3.3, 5.6, 7.1, 9.3, 10.7, 12.1), (0.5,) * 6, (1.866667, 1.757143), (0.4654747, 0.1195229), -0.05, 1.66476),
    ],
)
def test_iso_ts_28037_lines(
    y: Sequence[float],
    u: Sequence[float],
    parameters: Sequence[float],
    sds: Sequence[float],
    covariance: float,
    chi_square: float,
) -> None:
    solution = solved(line(range(1, 7)), np.array(y), np.array(u), np.zeros(2))
    assert solution.parameters == pytest.approx(parameters, abs=5e-6)
    assert np.sqrt(np.diag(solution.covariance)) == pytest.approx(sds, abs=5e-7)
    assert solution.covariance[0, 1] == pytest.approx(covariance, abs=5e-8)
    assert solution.objective == pytest.approx(chi_square, abs=5e-5)

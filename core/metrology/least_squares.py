"""The general weighted least-squares step and its iteration, free of coupons: any model, any weights, optional priors.

Input: observations, their standard deviations, a model that predicts them with its Jacobian. Output: parameters and
their covariance (J'WJ + P)^-1, not rescaled by the residuals, because the standard deviations are known (GUM; ISO/TS
28037). Gauss-Newton with step halving: a full step is taken where it lowers the objective.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]

MAX_ITERATIONS = 100
_MAX_HALVINGS = 40
_ROUNDING = 1e-10  # of the objective, a sum of squares of order 1: a rise this small is no rise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Converged or best parameters (k,), covariance (k, k), predicted values (n,) and Jacobian (n, k) there.

    `objective` is the weighted sum of squares of observations and priors.
    """

    parameters: FloatArray
    covariance: FloatArray
    predicted: FloatArray
    jacobian: FloatArray
    objective: float
    converged: bool
    iterations: int


def least_squares_step(
    jacobian: FloatArray, misclosure: FloatArray, weights: FloatArray, prior_pull: FloatArray, prior_weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """One weighted least-squares step: returns step (k,) and covariance (k, k) = (J'WJ + P)^-1.

    `jacobian` (n, k), `misclosure` (n,) observed less predicted, `weights` (n,) = 1/sd^2, `prior_pull` (k,) prior mean
    less present parameters, `prior_weights` (k,), zero where nothing is known beforehand.
    """
    weighted = jacobian.T * weights
    normal = weighted @ jacobian
    normal.flat[:: len(prior_weights) + 1] += prior_weights
    covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    return covariance @ (weighted @ misclosure + prior_weights * prior_pull), covariance


def gauss_newton(
    model: Model,
    observed: FloatArray,
    sd: FloatArray,
    start: FloatArray,
    *,
    prior_weights: FloatArray,
    step_scale: FloatArray,
    tolerance: float = 1e-9,
) -> Solution:
    """Minimise sum((observed - model)^2 / sd^2) + sum(prior_weights (parameters - start)^2).

    `start` (k,) is also the priors' mean. Converged means: every element of the last full step is below `tolerance`
    times `step_scale` (k,). Raises numpy.linalg.LinAlgError where a parameter is determined by nothing.
    """
    weights = 1.0 / sd**2

    def objective_at(parameters: FloatArray, predicted: FloatArray) -> float:
        misclosure, pull = observed - predicted, parameters - start
        return float(misclosure @ (weights * misclosure) + pull @ (prior_weights * pull))

    parameters = start
    predicted, jacobian = model(parameters)
    objective = objective_at(parameters, predicted)
    converged = False
    iteration = 0
    for iteration in range(1, MAX_ITERATIONS + 1):  # noqa: B007 - the count is part of the answer
        step, _ = least_squares_step(jacobian, observed - predicted, weights, start - parameters, prior_weights)
        small = bool(np.all(np.abs(step) <= tolerance * step_scale))
        for _halving in range(_MAX_HALVINGS):
            trial = parameters + step
            trial_predicted, trial_jacobian = model(trial)
            trial_objective = objective_at(trial, trial_predicted)
            if trial_objective <= objective * (1.0 + _ROUNDING) + _ROUNDING:
                break
            step = step / 2.0
        parameters, predicted, jacobian, objective = trial, trial_predicted, trial_jacobian, trial_objective
        if small:
            converged = True
            break
    _, covariance = least_squares_step(jacobian, observed - predicted, weights, start - parameters, prior_weights)
    return Solution(
        parameters=parameters,
        covariance=covariance,
        predicted=predicted,
        jacobian=jacobian,
        objective=objective,
        converged=converged,
        iterations=iteration,
    )

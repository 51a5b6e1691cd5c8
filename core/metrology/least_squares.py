"""The general weighted least-squares step and its iteration, free of coupons: any model, any weights, optional priors.

Input: observations, their standard deviations, a model that predicts them with its Jacobian. Output: parameters and
their covariance (J'WJ + P)^-1, not rescaled by the residuals, because the standard deviations are known (GUM; ISO/TS
28037). Gauss-Newton with step halving: a full step is taken where it lowers the objective.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]

MAX_ITERATIONS = 60
MAX_HALVINGS = 12
MAX_PRESSES = 3
TOLERANCE = 1e-9
_ROUNDING = 1e-10  # of the objective, a sum of squares of order 1: a rise this small is no rise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Converged or last parameters (k,), covariance (k, k), predicted values (n,) and Jacobian (n, k) there.

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
    jacobian: FloatArray, misclosure: FloatArray, sd: FloatArray, pull: FloatArray, prior_weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """One weighted least-squares step: returns step (k,) and covariance (k, k) = (J'WJ + P)^-1.

    `jacobian` (n, k), `misclosure` (n,) observed less predicted, `sd` (n,) of the observations, `pull` (k,) prior mean
    less present parameters, `prior_weights` (k,), zero where nothing is known beforehand. Leading dimensions of any
    size in front stand for as many problems solved at once.
    """
    design = jacobian / sd[..., None]
    transposed = design.swapaxes(-1, -2)
    normal = transposed @ design
    diagonal = np.arange(normal.shape[-1])
    normal[..., diagonal, diagonal] += prior_weights
    covariance: FloatArray = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    gradient = (transposed @ (misclosure / sd)[..., None])[..., 0] + prior_weights * pull
    return (covariance @ gradient[..., None])[..., 0], covariance


def gauss_newton(
    model: Model,
    observed: FloatArray,
    sd: FloatArray,
    start: FloatArray,
    *,
    prior_weights: FloatArray,
    step_scale: FloatArray,
    reach: float = math.inf,
) -> Solution:
    """Minimise sum((observed - model)^2 / sd^2) + sum(prior_weights (parameters - start)^2).

    `start` (k,) is also the priors' mean. Converged means: the next step would be below 1e-9 of `step_scale` (k,) in
    every element. `reach` bounds the search to so many step scales about the start; a search that presses against the
    bound ends unconverged. Raises numpy.linalg.LinAlgError where a parameter is determined by nothing.
    """

    def objective_of(parameters: FloatArray, predicted: FloatArray) -> float:
        weighted, pull = (observed - predicted) / sd, parameters - start
        return float(weighted @ weighted + pull @ (prior_weights * pull))

    parameters, presses, converged = start, 0, False
    predicted, jacobian = model(parameters)
    objective = objective_of(parameters, predicted)
    for iteration in range(1, MAX_ITERATIONS + 1):
        step, covariance = least_squares_step(jacobian, observed - predicted, sd, start - parameters, prior_weights)
        converged = bool((abs(step) <= TOLERANCE * step_scale).all())
        if converged or iteration == MAX_ITERATIONS:
            break
        if (furthest := float((abs(parameters + step - start) / step_scale).max())) > reach:
            presses += 1
            if presses > MAX_PRESSES:
                break
            step = step * (reach - float((abs(parameters - start) / step_scale).max())) / (2.0 * furthest)
        for _ in range(MAX_HALVINGS):
            trial = parameters + step
            trial_predicted, trial_jacobian = model(trial)
            trial_objective = objective_of(trial, trial_predicted)
            if trial_objective <= objective * (1.0 + _ROUNDING) + _ROUNDING:
                break
            step = step / 2.0
        else:
            break
        parameters, predicted, jacobian, objective = trial, trial_predicted, trial_jacobian, trial_objective
    return Solution(
        parameters=parameters,
        covariance=covariance,
        predicted=predicted,
        jacobian=jacobian,
        objective=objective,
        converged=converged,
        iterations=iteration,
    )

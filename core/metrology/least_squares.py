"""The general weighted least-squares step and its iteration, free of coupons: any model, any weights, optional priors.

Input: a model that gives, at any parameters, the misclosures (observed less predicted) and its Jacobian, each row
divided by the standard deviation of its observation. Output: parameters and their covariance (J'WJ + P)^-1, not
rescaled by the residuals, because the standard deviations are known (JCGM 100; ISO/TS 28037). Gauss-Newton with step
halving, and Newton's own steps where that is too slow.
"""

import math
from collections.abc import Callable

from msgspec import Struct

from core.numeric import FloatArray, np

# Parameters (k,) to weighted misclosure (n,) and weighted Jacobian (n, k), the design.
WeightedModel = Callable[[FloatArray], tuple[FloatArray, FloatArray]]

MAX_ITERATIONS = 60
PATIENCE = 8  # Gauss-Newton steps before Newton's take over
MAX_HALVINGS = 12
CAREFUL = 0.1  # a step longer than this must lower the objective, or it is halved
MAX_PRESSES = 3
TOLERANCE = 1e-9
NEGLIGIBLE = 1e-6  # a step that leaves the Jacobian what it was
_DIFFERENCE = 1e-4
ROUNDING = 1e-10  # of the objective, a sum of squares of order 1: a rise this small is no rise


class Solution(Struct, frozen=True, kw_only=True, eq=False):
    """Converged or last parameters (k,), covariance (k, k), weighted misclosure (n,) and design (n, k) there.

    `objective` is the weighted sum of squares of observations and priors.
    """

    parameters: FloatArray
    covariance: FloatArray
    misclosure: FloatArray
    design: FloatArray
    objective: float
    converged: bool


def least_squares_step(
    design: FloatArray, misclosure: FloatArray, pull: FloatArray, prior_weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """One weighted least-squares step: returns step (k,) and covariance (k, k) = (J'WJ + P)^-1.

    `design` (n, k) and `misclosure` (n,), observed less predicted, have each row divided by its standard deviation;
    `pull` (k,) is prior mean less present parameters; `prior_weights` (k,) are 1/sd^2 of the priors, zero where nothing
    is known beforehand. Leading dimensions of any size in front stand for as many problems solved at once.
    """
    transposed = design.swapaxes(-1, -2)
    normal = transposed @ design
    size = normal.shape[-1]
    normal.reshape(*normal.shape[:-2], size * size)[..., :: size + 1] += prior_weights  # the diagonal
    covariance: FloatArray = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    gradient = (transposed @ misclosure[..., None])[..., 0] + prior_weights * pull
    return (covariance @ gradient[..., None])[..., 0], covariance


def _newton_step(
    model: WeightedModel,
    parameters: FloatArray,
    prior_mean: FloatArray,
    prior_weights: FloatArray,
    otherwise: FloatArray,
) -> FloatArray:
    """Newton's step, with the curvature that Gauss-Newton leaves out (central differences of the gradient).

    Where readings hardly determine the parameters, Gauss-Newton creeps or circles; this does not. `otherwise` where the
    objective curves the wrong way.
    """

    def descent(at: FloatArray) -> FloatArray:
        misclosure, design = model(at)
        return design.T @ misclosure + prior_weights * (prior_mean - at)

    curvature = np.array(
        [
            (descent(parameters - h) - descent(parameters + h)) / (2.0 * _DIFFERENCE)
            for h in np.eye(len(parameters)) * _DIFFERENCE
        ]
    )
    curvature = (curvature + curvature.T) / 2.0
    if np.linalg.eigvalsh(curvature)[0] <= 0.0:
        return otherwise
    return np.asarray(np.linalg.solve(curvature, descent(parameters)), dtype=np.float64)


def _largest(vector: FloatArray) -> float:
    return float(max(map(abs, vector.tolist())))


def gauss_newton(
    model: WeightedModel,
    start: FloatArray,
    *,
    prior_mean: FloatArray,
    prior_weights: FloatArray,
    reach: float = math.inf,
    hopeless: float = math.inf,
    negligible: float = NEGLIGIBLE,
    seen: tuple[FloatArray, FloatArray] | None = None,
) -> Solution:
    """Minimise the sum of squared weighted misclosures and priors from `start` (k,).

    The parameters are in units of which 1 is much (prior sds, millimetres). Converged means: the next step would be
    below 1e-9 in every element, judged by how the last two steps shrank. `reach` bounds the search to that distance
    from the priors' mean; a search that presses against the bound ends unconverged, and so does one whose objective is
    above `hopeless` after a step: near a solution a single step leaves little to gain. A step below `negligible` is
    taken along the Jacobian before it. `seen` is what the model gives at the start, where it is known already. Raises
    numpy.linalg.LinAlgError where a parameter is determined by nothing.
    """
    parameters, presses, converged = start, 0, False
    pull = prior_mean - parameters
    misclosure, design = model(parameters) if seen is None else seen
    travelled, last = _largest(pull), math.nan  # how steps shrink is not known before the second
    for iteration in range(MAX_ITERATIONS):
        step, covariance = least_squares_step(design, misclosure, pull, prior_weights)
        if iteration >= PATIENCE:
            step = _newton_step(model, parameters, prior_mean, prior_weights, otherwise=step)
        size = _largest(step)
        if size <= TOLERANCE or (size <= negligible and size * size <= TOLERANCE * last):
            # So near that the Jacobian stays what it is: the step is taken along it.
            parameters, misclosure, converged = parameters + step, misclosure - design @ step, True
            break
        travelled += size
        if travelled > reach and _largest(step - pull) > reach:
            presses += 1
            if presses > MAX_PRESSES:
                break
            step = step * ((reach - _largest(pull)) / (2.0 * _largest(step - pull)))
        objective = _objective(misclosure, pull, prior_weights) if size > CAREFUL else math.inf
        parameters, misclosure, design = _stepped(model, parameters, step, prior_mean, prior_weights, objective)
        pull, last = prior_mean - parameters, size
        if hopeless < math.inf and _objective(misclosure, pull, prior_weights) > hopeless:
            break
    return Solution(
        parameters=parameters,
        covariance=covariance,
        misclosure=misclosure,
        design=design,
        objective=_objective(misclosure, prior_mean - parameters, prior_weights),
        converged=converged,
    )


def _objective(misclosure: FloatArray, pull: FloatArray, prior_weights: FloatArray) -> float:
    return float(misclosure @ misclosure + pull @ (prior_weights * pull))


def _stepped(
    model: WeightedModel,
    parameters: FloatArray,
    step: FloatArray,
    prior_mean: FloatArray,
    prior_weights: FloatArray,
    objective: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Parameters after the step, misclosure and design there; the step is halved until it lowers the objective, and is
    as short as may be where nothing does."""
    for _ in range(MAX_HALVINGS):
        trial = parameters + step
        misclosure, design = model(trial)
        if (
            objective == math.inf
            or _objective(misclosure, prior_mean - trial, prior_weights) <= objective * (1.0 + ROUNDING) + ROUNDING
        ):
            return trial, misclosure, design
        step = step / 2.0
    trial = parameters + step
    return trial, *model(trial)

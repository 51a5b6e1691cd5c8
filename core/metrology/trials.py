"""What is tried out by the dozen when readings contradict: many sets of readings of one coupon, adjusted together.

Stage: beside the adjustment, by its own model and steps. In: sets of readings. Out: the solution of each, None where
they contradict as well. All take their Gauss-Newton steps together, in arrays; whichever needs more care than whole
steps is solved alone. Nothing is worked out of a solution beyond whether it fits.
"""

from collections.abc import Sequence

from core.geometry import SHAPE_PARAMETERS, TEN_FEATURES, Coupon
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import REACH_SDS, first_guess, fits, solve
from core.metrology.hands import learn
from core.metrology.least_squares import MAX_PRESSES, NEGLIGIBLE, ROUNDING, TOLERANCE, Solution, least_squares_step
from core.metrology.measuring_model import (
    PARAMETERS,
    Means,
    instrument_jacobian,
    mean_readings,
    priors_in_sds,
    reading_rows,
    trust,
)
from core.metrology.readings import Reading
from core.numeric import FloatArray, np

HOPELESS = 2000.0  # of an objective: the global test lets no sum through that is half as large, shape priors included
MOST_TOGETHER = 8  # whole steps before one is solved alone


def solutions_that_fit(
    coupon: Coupon, tried: Sequence[Sequence[Reading]], setup: MeasuringSetup
) -> list[Solution | None]:
    """The solution of each of some sets of readings, in units of the prior sd; None for one that contradicts itself."""
    known = trust(coupon, setup)
    several = [mean_readings(learn(readings, setup), known) for readings in tried]
    return [
        solution if solution is not None and solution.objective <= HOPELESS and fits(means, solution) else None
        for means, solution in zip(several, _solved(coupon, several, setup), strict=True)
    ]


def many_predicted_readings(
    coupon: Coupon, parameters: FloatArray, setup: MeasuringSetup
) -> tuple[FloatArray, FloatArray]:
    """`predicted_readings` of many shapes of one coupon: parameters (m, 8) to values (m, 10), Jacobians (m, 10, 8)."""
    a, b, g, tx, ty = np.ascontiguousarray(parameters[:, :SHAPE_PARAMETERS].T)
    columns, rows = reading_rows(coupon, (a, b, g, tx, ty), setup, np.hypot, np.arctan2)
    jacobian = np.empty((len(parameters), len(columns), len(PARAMETERS)))
    for place, row in enumerate(rows):
        for parameter, slope in enumerate(row):
            jacobian[:, place, parameter] = slope
    jacobian[..., SHAPE_PARAMETERS:] = instrument_jacobian()
    return np.stack(columns, axis=-1) + parameters[:, SHAPE_PARAMETERS:] @ instrument_jacobian().T, jacobian


def _solved(coupon: Coupon, several: Sequence[Means], setup: MeasuringSetup) -> list[Solution | None]:
    """Solutions in the order of the means; None for one that is hopeless after a step, as it is for `solve`."""
    known, one = trust(coupon, setup), priors_in_sds()[1]
    observed, weights = np.zeros((2, len(several), len(TEN_FEATURES)))
    for place, means in enumerate(several):
        observed[place, means.rows], weights[place, means.rows] = means.values, 1.0 / np.array(means.sds)
    z = np.array([first_guess(coupon, means, setup) for means in several]).reshape(-1, len(PARAMETERS))
    before, last = np.full(len(several), np.inf), np.full(len(several), np.nan)
    presses = np.zeros(len(several), dtype=int)
    found: list[Solution | None] = [None] * len(several)
    active = np.arange(len(several))
    alone: list[int] = []
    for _ in range(MOST_TOGETHER):
        values, jacobian = many_predicted_readings(coupon, known.prior_mean + known.prior_sd * z[active], setup)
        misclosure = (observed[active] - values) * weights[active]
        objective = (misclosure * misclosure).sum(-1) + (z[active] * z[active]).sum(-1)
        rose = objective > before[active] * (1.0 + ROUNDING) + ROUNDING
        alone += active[rose].tolist()
        going = ~rose & ((before[active] == np.inf) | (objective <= HOPELESS))
        active, misclosure, objective = active[going], misclosure[going], objective[going]
        if not len(active):
            break
        design = jacobian[going] * known.prior_sd * weights[active][..., None]
        step, covariance = least_squares_step(design, misclosure, -z[active], one)
        size = np.abs(step).max(-1)
        done = (size <= TOLERANCE) | ((size <= NEGLIGIBLE) & (size * size <= TOLERANCE * last[active]))
        # Out of reach, a step is cut short as `gauss_newton` does it.
        reached = np.abs(z[active] + step).max(-1)
        astray = ~done & (reached > REACH_SDS)
        shorter = (REACH_SDS - np.abs(z[active]).max(-1)) / (2.0 * np.maximum(reached, REACH_SDS))
        z[active] += np.where(astray, shorter, 1.0)[:, None] * step
        before[active], last[active] = objective, size
        presses[active] += astray
        for here in np.flatnonzero(done).tolist():
            place = int(active[here])
            rows = list(several[place].rows)
            left = (misclosure[here] - design[here] @ step[here])[rows]
            found[place] = Solution(
                parameters=z[place],
                covariance=covariance[here],
                misclosure=left,
                design=design[here][rows],
                objective=float(left @ left + z[place] @ z[place]),
                converged=True,
            )
        active = active[~done & (presses[active] <= MAX_PRESSES)]
    for place in (*alone, *active.tolist()):
        found[place] = solve(coupon, several[place], setup, hopeless=HOPELESS)
    return found

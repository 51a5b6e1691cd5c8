"""The weighted least-squares adjustment of a coupon's readings: five shape and three instrument parameters.

Stage: readings to shape. In: coupon, readings, measuring setup. Out: `Adjustment`, the estimate of the true shape with
its covariance, and what the readings say of one another. The model is that of measuring_model.py; readings of a window
are not part of it. Effective degrees of freedom by Welch and Satterthwaite's formula (JCGM 100:2008, G.4.1).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import cache, lru_cache

from msgspec import Struct

from core.geometry import SHAPE_PARAMETERS, TEN_FEATURES, Coupon, Feature, mean_y_direction
from core.metrology.accuracy import MeasuringSetup
from core.metrology.distributions import student_quantile
from core.metrology.hands import FeatureReadings, Learned, learn
from core.metrology.least_squares import NEGLIGIBLE, Solution, WeightedModel, gauss_newton, least_squares_step
from core.metrology.measuring_model import (
    PARAMETERS,
    Means,
    kinds_of,
    mean_readings,
    predicted_readings,
    priors_in_sds,
    trust,
)
from core.metrology.readings import Reading
from core.metrology.reliability import (
    detection_factor,
    global_test_passes,
    redundancy_numbers,
    smallest_detectable,
    standardised_residual,
)
from core.numeric import FloatArray, np

MAX_SHAPE_SDS = 4.0
REACH_SDS = 8.0  # beyond twice that bound no coupon is looked for; within it edges cannot fold over
COVERAGE = 0.975  # of either side: 95 % together
SURE_OF_SIGN = 0.995  # whoever is sent the wrong way is worse off than before: 99 %


class Estimate(Struct, frozen=True, kw_only=True):
    """A value, its standard uncertainty, and how many degrees of freedom that is known with (infinitely many)."""

    value: float
    u: float
    nu: float = math.inf

    @property
    def U95(self) -> float:  # noqa: N802 - the expanded uncertainty's symbol in the GUM
        """Expanded uncertainty, 95 %."""
        return student_quantile(COVERAGE, self.nu) * self.u

    @property
    def sign_is_sure(self) -> bool:
        """Whether the value is farther from zero than chance brings one value in a hundred: which way it points may
        then be acted on."""
        return abs(self.value) > student_quantile(SURE_OF_SIGN, self.nu) * self.u

    @classmethod
    def from_expanded(cls, value: float, U95: float) -> Estimate:
        """The estimate of which a value and its expanded uncertainty were kept, its u taken as known."""
        return cls(value=value, u=U95 / student_quantile(COVERAGE, math.inf))


class AdjustedReading(Struct, frozen=True, kw_only=True):
    """One feature in the adjustment: mean of its `count` readings; residual = adjusted - observed; mm or degrees.

    `smallest_detectable` is the slip in one reading that the others would show (None: none of any size): those of other
    features, or, of a feature read more than once, its fellows. `unseen` is what such a slip shifts the mean by,
    infinite where nothing would show it.
    """

    feature: Feature
    value: float
    count: int
    sd: float
    adjusted: float
    residual: float
    standardised_residual: float
    redundancy: float
    smallest_detectable: float | None
    unseen: float


class Adjustment(Struct, frozen=True, kw_only=True, eq=False):
    """Result of an adjustment. `parameters` has shape (8,), `covariance` (8, 8), in the order of PARAMETERS.

    `gain` (8, n) is what a shift of each mean reading does to the parameters; `solution` is all of it in units of the
    prior sd. `chi_square` and `nu` are those of the
    global test, `nu_of_weights` the degrees of freedom that the weights are known with; `consistent` is its outcome
    together with the bounds on the shape parameters and convergence.
    """

    coupon: Coupon
    parameters: FloatArray
    covariance: FloatArray
    gain: FloatArray
    solution: Solution
    means: Means
    learned: Learned
    readings: tuple[AdjustedReading, ...]
    chi_square: float
    nu: float
    nu_of_weights: float
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

    def estimates(self, values: Sequence[float], gradients: FloatArray) -> tuple[Estimate, ...]:
        """Functions of the parameters with their standard uncertainties; gradients (m, 5) of the shape, or (m, 8)."""
        return estimates(values, gradients, self.covariance, self.gain, self.means)


def estimate_of(value: float, variance: float, learned: FloatArray, nus: FloatArray) -> Estimate:
    """A value with its variance; `learned` (q,) are the parts of that known with `nus` (q,) degrees of freedom only."""
    variance, doubt = max(variance, 0.0), float(learned * learned @ (1.0 / nus))
    return Estimate(value=value, u=math.sqrt(variance), nu=variance * variance / doubt if doubt > 0.0 else math.inf)


def estimates(
    values: Sequence[float], gradients: FloatArray, covariance: FloatArray, gain: FloatArray, means: Means
) -> tuple[Estimate, ...]:
    """Functions of the parameters by the law of propagation (JCGM 100, 5.2); gradients (m, k), k <= 8, covariance
    (8, 8), gain (8, n).

    Effective degrees of freedom are those of Welch and Satterthwaite (JCGM 100, G.4.1), never truncated.
    """
    k = gradients.shape[1]
    variances = np.maximum((gradients @ covariance[:k, :k] * gradients).sum(-1), 0.0)
    # Of each variance, the part that hand q answers for; what is not learned is known with certainty.
    of_hands = (gradients @ gain[:k]) ** 2 @ means.learned
    doubts = (of_hands * of_hands) @ (1.0 / means.nus)
    return tuple(
        Estimate(value=value, u=math.sqrt(variance), nu=variance * variance / doubt if doubt > 0.0 else math.inf)
        for value, variance, doubt in zip(values, variances.tolist(), doubts.tolist(), strict=True)
    )


def adjust(
    coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup, hopeless: float = math.inf
) -> Adjustment:
    """Estimate shape and instrument parameters from any readings, none included; lengths in mm, angles in degrees.

    Contradictory readings are no error: the result then says `consistent` False, as it does of a search given up for
    being no better than `hopeless` after a step.
    """
    learned = learn(readings, setup)
    means = mean_readings(learned, trust(coupon, setup))
    solution = solve(coupon, means, setup, hopeless=hopeless)
    return _result(coupon, learned, means, solution, _fit(means, solution), setup)


def solve_without(
    adjustment: Adjustment, features: Collection[Feature], setup: MeasuringSetup
) -> tuple[Means, Solution]:
    """The same coupon from its other readings alone, each trusted as before, beginning at the solution by all.

    Parameters are as good as those of any adjustment, their covariance is good to five figures.
    """
    kept = [place for place, row in enumerate(adjustment.means.rows) if TEN_FEATURES[row] not in features]
    means, whole = adjustment.means.only(kept), adjustment.solution
    if max(map(abs, whole.parameters.tolist())) > MAX_SHAPE_SDS:
        return means, solve(adjustment.coupon, means, setup)
    nothing, one = priors_in_sds()
    return means, gauss_newton(
        _weighted_model(adjustment.coupon, means, setup),
        whole.parameters,
        prior_mean=nothing,
        prior_weights=one,
        reach=REACH_SDS,
        negligible=100.0 * NEGLIGIBLE,
        seen=(whole.misclosure[kept], whole.design[kept]),
    )


def solve(coupon: Coupon, means: Means, setup: MeasuringSetup, hopeless: float = math.inf) -> Solution:
    """The least-squares solution in units of the prior sd: well conditioned, and a zero known exactly does not move.

    A search that is no better than `hopeless` after a step is given up.
    """
    nothing, one = priors_in_sds()
    start, model = first_guess(coupon, means, setup), _weighted_model(coupon, means, setup)
    return gauss_newton(model, start, prior_mean=nothing, prior_weights=one, reach=REACH_SDS, hopeless=hopeless)


def first_guess(coupon: Coupon, means: Means, setup: MeasuringSetup) -> FloatArray:
    """Where a search begins (8,), in units of the prior sd: the first step from the nominal shape, which is much the
    same for every coupon; not taken where it leads astray."""
    predicted, gain = nominal_gain(coupon, setup, means.rows)
    start = gain @ (means.values - predicted)
    return priors_in_sds()[0] if max(map(abs, start.tolist())) > MAX_SHAPE_SDS else start


def fits(means: Means, solution: Solution) -> bool:
    """Whether the readings do not contradict one another: the global test alone."""
    return _fit(means, solution).consistent


def _weighted_model(coupon: Coupon, means: Means, setup: MeasuringSetup) -> WeightedModel:
    """Misclosures of mean readings and their slopes in units of the prior sd, each over its standard deviation."""
    known, sds, rows = trust(coupon, setup), np.array(means.sds), list(means.rows)
    scale, kinds = known.prior_sd / sds[:, None], kinds_of(means.rows)

    def model(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        values, jacobian = predicted_readings(coupon, known.prior_mean + known.prior_sd * z, setup, kinds)
        if len(rows) < len(TEN_FEATURES):
            values, jacobian = values[rows], jacobian[rows]
        return (means.values - values) / sds, jacobian * scale

    return model


@lru_cache(maxsize=64)
def nominal_gain(coupon: Coupon, setup: MeasuringSetup, rows: tuple[int, ...]) -> tuple[FloatArray, FloatArray]:
    """Predicted readings (n,) of the nominal coupon and the matrix (8, n) from misclosures to parameters, in prior sds.

    Worked out once for a size and the features read, each taken as read once: near enough to begin with.
    """
    known, chosen = trust(coupon, setup), list(rows)
    sds = np.array(known.single_sds)[chosen]
    values, jacobian = predicted_readings(coupon, known.prior_mean, setup)
    design = jacobian[chosen] * known.prior_sd / sds[:, None]
    _, covariance = least_squares_step(design, np.zeros(len(rows)), *priors_in_sds())
    return values[chosen], covariance @ design.T / sds


class _Fit(Struct, frozen=True, kw_only=True, eq=False):
    """How well a solution fits: what the global test is made of, and its answer; redundancy numbers (n,)."""

    redundancy: FloatArray
    chi_square: float
    nu: float
    nu_of_weights: float
    consistent: bool


def _fit(means: Means, solution: Solution) -> _Fit:
    """The global test of a solution in units of the prior sd."""
    z, z_variances = solution.parameters.tolist(), solution.covariance.diagonal().tolist()
    chi_square = float(solution.misclosure @ solution.misclosure) + sum(part * part for part in z[SHAPE_PARAMETERS:])
    # The redundancy numbers of readings and all priors sum to the readings; those of the shape priors are left out.
    nu = len(means.rows) - SHAPE_PARAMETERS + sum(z_variances[:SHAPE_PARAMETERS])
    within_bounds = max(map(abs, z[:SHAPE_PARAMETERS])) <= MAX_SHAPE_SDS
    redundancy, sds = redundancy_numbers(solution.design, solution.covariance), np.array(means.sds)
    nu_of_weights = _nu_of_weights(nu, redundancy / (sds * sds), means)
    return _Fit(
        redundancy=redundancy,
        chi_square=chi_square,
        nu=nu,
        nu_of_weights=nu_of_weights,
        consistent=solution.converged and within_bounds and global_test_passes(chi_square, nu, nu_of_weights),
    )


def _result(
    coupon: Coupon, learned: Learned, means: Means, solution: Solution, fit: _Fit, setup: MeasuringSetup
) -> Adjustment:
    """Everything that is said of a solution in units of the prior sd."""
    known = trust(coupon, setup)
    parameters = known.prior_mean + known.prior_sd * solution.parameters
    covariance = known.prior_sd_products * solution.covariance
    gain = known.prior_sd[:, None] * (solution.covariance @ solution.design.T) / np.array(means.sds)
    for array in (parameters, covariance, gain):
        array.flags.writeable = False
    named = _named_estimates(parameters, covariance, gain, means)
    return Adjustment(
        coupon=coupon,
        parameters=parameters,
        covariance=covariance,
        gain=gain,
        solution=solution,
        means=means,
        learned=learned,
        readings=_adjusted_readings(means, learned.features, solution, fit.redundancy, fit.nu),
        chi_square=fit.chi_square,
        nu=fit.nu,
        nu_of_weights=fit.nu_of_weights,
        converged=solution.converged,
        consistent=fit.consistent,
        objective=solution.objective,
        skew_deg=named[0],
        scale_x=named[1],
        scale_y=named[2],
        taper_x=named[3],
        taper_y=named[4],
        caliper_zero_mm=named[5],
        corner_loss_mm=named[6],
        gauge_zero_deg=named[7],
    )


def _nu_of_weights(nu: float, redundancy_by_variance: FloatArray, means: Means) -> float:
    """Degrees of freedom of the variance that the squared residuals are held against (Welch and Satterthwaite)."""
    of_hands = redundancy_by_variance @ means.learned
    doubt = float(of_hands * of_hands @ (1.0 / means.nus))
    return nu * nu / doubt if doubt > 0.0 and nu > 0.0 else math.inf


def _named_estimates(
    parameters: FloatArray, covariance: FloatArray, gain: FloatArray, means: Means
) -> tuple[Estimate, ...]:
    """Skew, scales along X and Y, tapers, and the three of the instruments."""
    a, b, g, tx, ty, c0, cl, g0 = parameters.tolist()
    length, cos, sin = mean_y_direction(b, g)
    gradients = _named_gradients().copy()
    gradients[0, 1], gradients[0, 2] = math.degrees(-sin / length), math.degrees(cos / length)
    gradients[2, 1], gradients[2, 2] = cos, sin
    values = (math.degrees(math.atan2(sin, cos)), a, length - 1.0, tx, ty, c0, cl, g0)
    return estimates(values, gradients, covariance, gain, means)


@cache
def _named_gradients() -> FloatArray:
    """What does not depend on the shape of the gradients of skew, scale_x, scale_y, tapers, c0, cl, g0."""
    gradients = np.zeros((len(PARAMETERS), len(PARAMETERS)))
    gradients[(1, 3, 4, 5, 6, 7), (0, 3, 4, 5, 6, 7)] = 1.0
    return gradients


def _adjusted_readings(
    means: Means, features: Sequence[FeatureReadings], solution: Solution, redundancy: FloatArray, nu: float
) -> tuple[AdjustedReading, ...]:
    factor = detection_factor(nu)
    adjusted = []
    for read, value, sd, misclosure, r in zip(
        features, means.values.tolist(), means.sds, solution.misclosure.tolist(), redundancy.tolist(), strict=True
    ):
        residual = -sd * misclosure
        shift = min(smallest_detectable(sd, r, factor), read.unseen)
        adjusted.append(
            AdjustedReading(
                feature=read.feature,
                value=value,
                count=read.count,
                sd=sd,
                adjusted=value + residual,
                residual=residual,
                standardised_residual=standardised_residual(residual, sd, r),
                redundancy=r,
                smallest_detectable=read.count * shift if math.isfinite(shift) else None,
                unseen=shift,
            )
        )
    return tuple(adjusted)

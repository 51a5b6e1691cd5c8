"""Speed of the adjustment against scipy.optimize.least_squares on the same model, in the same run on one core.

    PYTHONPATH=. python tests/benchmarks/adjustment_speed.py

Prints microseconds of processor time (best of many rounds, so that other work on the machine counts little) and ratios.
scipy gets the house's own predicted readings and only finds the parameters; the adjustment also forms means,
covariance, redundancy numbers, the tests and the smallest detectable misreadings.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: one core for everybody
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares

from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.hands import learn
from core.metrology.measuring_model import Means, mean_readings, predicted_readings, trust
from tests.benchmarks.in_turn import best_in_turn
from tests.core.metrology.scipy_model import model
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, random_truth, simulate

SETUP = MeasuringSetup()
KNOWN = trust(HOUSE_COUPON, SETUP)
COUPONS = 50


ROUNDS = 8


def least_squares_of(means: Means, **options: object) -> object:
    """scipy's solution of one coupon, from the nominal shape, in units of the prior sd."""

    def readings_at(z: Array) -> tuple[Array, Array]:
        return predicted_readings(HOUSE_COUPON, KNOWN.prior_mean + KNOWN.prior_sd * z, SETUP)

    def residuals(z: Array) -> Array:
        return np.concatenate([(readings_at(z)[0] - means.values) / np.array(means.sds), z])

    def slopes(z: Array) -> Array:
        return np.vstack([readings_at(z)[1] * KNOWN.prior_sd / np.array(means.sds)[:, None], np.eye(8)])

    if options.pop("plain", False):
        return least_squares(lambda z: plain_residuals(z, means), np.zeros(8), **options)
    analytic = {"jac": slopes} if options.pop("analytic", False) else {}
    return least_squares(residuals, np.zeros(8), **analytic, **options)


def plain_residuals(z: Array, means: Means) -> Array:
    """The model as scipy_model.py writes it: corners as complex numbers, then distances and angles."""
    values = model(KNOWN.prior_mean + KNOWN.prior_sd * z, HOUSE_COUPON, SETUP)
    return np.concatenate([(values - means.values) / np.array(means.sds), z])


def main() -> None:
    rng = np.random.default_rng(1)
    coupons = [simulate(rng, random_truth(rng, SETUP), setup=SETUP) for _ in range(COUPONS)]
    every_means = [mean_readings(learn(readings, SETUP), KNOWN) for readings in coupons]
    same_end = {"xtol": 1e-9, "ftol": 1e-15, "gtol": 1e-15}
    ours = "adjust, all of it"
    work: dict[str, Callable[[], object]] = {
        ours: lambda: [adjust(HOUSE_COUPON, readings, SETUP) for readings in coupons],
        "scipy as it comes": lambda: [least_squares_of(means) for means in every_means],
        "scipy to the same step of 1e-9 prior sd": lambda: [least_squares_of(m, **same_end) for m in every_means],
        "scipy as it comes, model in plain numpy": lambda: [least_squares_of(m, plain=True) for m in every_means],
        "scipy to the same step, model in plain numpy": lambda: [
            least_squares_of(m, plain=True, **same_end) for m in every_means
        ],
        "scipy as it comes, our Jacobian": lambda: [least_squares_of(m, analytic=True) for m in every_means],
        "scipy to the same step, our Jacobian": lambda: [
            least_squares_of(m, analytic=True, **same_end) for m in every_means
        ],
    }
    best = {name: seconds / COUPONS for name, seconds in best_in_turn(work, ROUNDS).items()}
    for name, seconds in best.items():
        print(f"{name:46} {seconds * 1e6:8.1f} us   {seconds / best[ours]:5.1f} times")


if __name__ == "__main__":
    main()

"""Speed of a whole judgement (adjustment, tests, groups, next reading, witness) beside scipy's fit alone.

    PYTHONPATH=. python tests/benchmarks/judgement_speed.py

Prints milliseconds of processor time (best of many rounds, so that other work on the machine counts little), in the
same run on one core. Contradictory readings have their explanations tried: theirs is a row of its own; so has what only
some pages ask for (both skews, causes of sizes, conformance probabilities).
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: one core for everybody
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable, Sequence

import numpy as np
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.hands import learn
from core.metrology.measuring_model import mean_readings, trust
from core.metrology.readings import Reading
from core.metrology.tolerances import limits_for_class
from core.metrology.witness import Answers, MarkSeen, move_evidence
from tests.benchmarks.adjustment_speed import KNOWN, SETUP, least_squares_of
from tests.benchmarks.in_turn import best_in_turn
from tests.core.metrology.simulated_readings import HOUSE_COUPON, random_truth, simulate

COUPONS, ROUNDS = 20, 8
KEYED = replace(HOUSE_COUPON, seats=keyed_seats(HOUSE_COUPON.width_mm, HOUSE_COUPON.height_mm))

MK = limits_for_class(HOUSE_COUPON, "mK")  # a session is opened with them


def taken(coupon: Coupon, features: Sequence[Feature], seed: int = 1) -> list[list[Reading]]:
    """Readings of these features, in their order; later repeats differ by little."""
    rng = np.random.default_rng(seed)
    several = []
    for _ in range(COUPONS):
        truth = random_truth(rng, SETUP)
        by_feature = {r.feature: r for r in simulate(rng, truth, setup=SETUP, coupon=coupon)}
        several.append(
            [
                replace(by_feature[f], value=by_feature[f].value + 0.01 * (place // 10))
                for place, f in enumerate(features)
            ]
        )
    return several


def judged(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup = SETUP) -> Evaluation:
    """Everything that follows on a screen from one more reading."""
    evaluation = evaluate(coupon, readings, MK, setup)
    move_evidence(evaluation, Answers(mark=MarkSeen.NL))
    return evaluation


def with_all_pages(evaluation: Evaluation) -> None:
    """What pages and files ask for beyond that."""
    assert evaluation.skew_by is not None
    assert evaluation.size_finding is not None
    assert all(one.lower is None or one.conformance_probability is not None for one in evaluation.characteristics)


def main() -> None:
    quick = taken(KEYED, DIAGONALS * 2)
    ten = taken(HOUSE_COUPON, TEN_FEATURES)
    whole = taken(HOUSE_COUPON, (*TEN_FEATURES, *DIAGONALS, *EDGES))
    off = [[replace(r, value=r.value + (5.0 if r.feature is Feature.NL_FR else 0.0)) for r in one] for one in whole]
    means = [mean_readings(learn(readings, SETUP), trust(HOUSE_COUPON, SETUP)) for readings in ten]
    assert KNOWN is not None
    bare = "scipy's fit alone, ten features"
    work: dict[str, Callable[[], object]] = {
        "quick check on keyed seats, 4 readings": lambda: [judged(KEYED, one) for one in quick],
        "ten features once": lambda: [judged(HOUSE_COUPON, one) for one in ten],
        "whole coupon, 16 readings": lambda: [judged(HOUSE_COUPON, one) for one in whole],
        "... and all that pages ask for": lambda: [with_all_pages(judged(HOUSE_COUPON, one)) for one in whole],
        "contradictory, 16 readings": lambda: [judged(HOUSE_COUPON, one) for one in off],
        "adjustment alone, ten features": lambda: [adjust(HOUSE_COUPON, one, SETUP) for one in ten],
        bare: lambda: [least_squares_of(one) for one in means],
    }
    best = {name: seconds / COUPONS for name, seconds in best_in_turn(work, ROUNDS).items()}
    for name, seconds in best.items():
        print(f"{name:42} {seconds * 1e3:8.2f} ms   {seconds / best[bare]:5.2f} of scipy's")


if __name__ == "__main__":
    main()

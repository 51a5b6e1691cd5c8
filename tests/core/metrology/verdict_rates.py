"""How often a verdict is wrong, on simulated coupons whose true shape is known; for the table and for its test.

Truth is drawn continuously (simulated_readings), instruments are exactly as modelled. A verdict is wrong when it says
go of a coupon that is truly outside its limits, or no-go of one that is inside.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES
from core.geometry.shape import true_features
from core.metrology.adjustment import adjust
from core.metrology.characteristics import characteristics, measurands
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.readings import Reading
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import CharacteristicGroup, Verdict
from tests.core.metrology.known_coupons import SETUP
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, Linearity, random_truth, simulate

SQUARENESS = CharacteristicGroup.SQUARENESS
LIMITS = limits_for_class(HOUSE_COUPON, "mK")


class Tally(Struct, kw_only=True):
    """Counts over coupons."""

    coupons: int = 0
    go: int = 0
    no_go: int = 0
    go_on_bad: int = 0
    no_go_on_good: int = 0
    readings: int = 0

    def add(self, verdict: Verdict, good: bool, readings: int) -> None:
        self.coupons += 1
        self.readings += readings
        self.go += verdict is Verdict.GO
        self.no_go += verdict is Verdict.NO_GO
        self.go_on_bad += verdict is Verdict.GO and not good
        self.no_go_on_good += verdict is Verdict.NO_GO and good

    def __str__(self) -> str:
        n = self.coupons
        return (
            f"{n} coupons: go {self.go / n:.1%}, no-go {self.no_go / n:.1%}, go on bad {self.go_on_bad / n:.2%}, "
            f"no-go on good {self.no_go_on_good / n:.2%}, readings {self.readings / n:.1f}"
        )


def squareness_mm(truth: Array) -> float:
    """Shorter side x tan(skew)."""
    return HOUSE_COUPON.shorter_side_mm * float(truth[2] / (1.0 + truth[1]))


def is_square(truth: Array) -> bool:
    return abs(squareness_mm(truth)) <= (LIMITS.perpendicularity_mm or 0.0)


def has_size(truth: Array) -> bool:
    values, _ = true_features(HOUSE_COUPON, truth)
    nominal = np.array([HOUSE_COUPON.nominal(feature) for feature in EDGES])
    return bool(np.all(np.abs(values[:4] - nominal) <= LIMITS.width_edge_mm))


def after_all_ten(coupons: int, seed: int, linearity: Linearity) -> tuple[Tally, Tally]:
    """The words on squareness and size after all ten features."""
    rng = np.random.default_rng(seed)
    headline, size = Tally(), Tally()
    for _ in range(coupons):
        truth = random_truth(rng, SETUP)
        evaluation = evaluate(HOUSE_COUPON, simulate(rng, truth, setup=SETUP, linearity=linearity), LIMITS, SETUP)
        headline.add(evaluation.group(SQUARENESS).verdict, is_square(truth), len(TEN_FEATURES))
        size.add(evaluation.size_verdict, has_size(truth), len(TEN_FEATURES))
    return headline, size


def _as_asked(evaluation: Evaluation, left: list[Reading], rng: np.random.Generator) -> Reading | None:
    request = evaluation.next_reading
    return next((reading for reading in left if request and reading.feature is request.feature), None)


def _at_random(evaluation: Evaluation, left: list[Reading], rng: np.random.Generator) -> Reading | None:
    return left[rng.integers(len(left))] if left else None


def _once_round(evaluation: Evaluation, left: list[Reading], rng: np.random.Generator) -> Reading | None:
    """Diagonals, edges, corners, the plain fixed order; then round again."""
    order = DIAGONALS + EDGES + CORNERS

    def turn(reading: Reading) -> tuple[int, int]:
        still_to_come = sum(other.feature is reading.feature for other in left)
        return -still_to_come, order.index(reading.feature)

    return min(left, key=turn, default=None)


ORDERS: dict[str, Callable[[Evaluation, list[Reading], np.random.Generator], Reading | None]] = {
    "as asked": _as_asked,
    "fixed": _once_round,
    "random": _at_random,
}


def at_early_finish(coupons: int, seed: int, order: str, linearity: Linearity = "uniform") -> Tally:
    """The word on squareness when it is first called settled; up to three readings of a feature, of a diagonal six."""
    rng = np.random.default_rng(seed)
    tally = Tally()
    for _ in range(coupons):
        truth = random_truth(rng, SETUP)
        left = simulate(rng, truth, setup=SETUP, repeats=6, linearity=linearity)
        left = [r for k, r in enumerate(left) if r.feature in DIAGONALS or k % 6 < 3]
        taken: list[Reading] = []
        evaluation = evaluate(HOUSE_COUPON, taken, LIMITS, SETUP)
        while (
            not evaluation.group(SQUARENESS).settled and (reading := ORDERS[order](evaluation, left, rng)) is not None
        ):
            left.remove(reading)
            taken.append(reading)
            evaluation = evaluate(HOUSE_COUPON, taken, LIMITS, SETUP)
        found = evaluation.group(SQUARENESS)
        tally.add(found.verdict if found.settled else Verdict.UNDECIDED, is_square(truth), len(taken))
    return tally


def at_the_limit(coupons: int, seed: int, name: str, linearity: Linearity) -> dict[Verdict, float]:
    """Share of each verdict on one characteristic that truly lies exactly at its upper limit."""
    rng = np.random.default_rng(seed)
    counts = dict.fromkeys(Verdict, 0)
    for _ in range(coupons):
        truth = _moved_to_limit(random_truth(rng, SETUP), name)
        adjustment = adjust(HOUSE_COUPON, simulate(rng, truth, setup=SETUP, linearity=linearity), SETUP)
        judged = {found.name: found.verdict for found in characteristics(adjustment, measurands(adjustment, LIMITS))}
        counts[judged[name]] += 1
    return {verdict: count / coupons for verdict, count in counts.items()}


def _moved_to_limit(truth: Array, name: str) -> Array:
    """The same shape with shear (for squareness) or a scale (for an edge) moved until it lies at the limit."""
    parameter, limit = (2, LIMITS.perpendicularity_mm) if name == "squareness" else (0, LIMITS.width_edge_mm)
    moved = truth.copy()
    for _ in range(20):  # secant steps on a nearly linear function
        step = np.zeros_like(moved)
        step[parameter] = 1e-6
        now = _deviation_mm(moved, name)
        moved[parameter] += (limit - now) / ((_deviation_mm(moved + step, name) - now) / 1e-6)
    return moved


def _deviation_mm(truth: Array, name: str) -> float:
    if name == "squareness":
        return squareness_mm(truth)
    values, _ = true_features(HOUSE_COUPON, truth)
    return float(values[0] - HOUSE_COUPON.width_mm)

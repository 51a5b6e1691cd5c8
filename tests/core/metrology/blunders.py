"""One blunder each on simulated coupons, and how often the right explanation comes first.

`python tests/endurance/blunder_table.py` prints the table of 500 cases a kind; the suite runs a smaller seeded one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.findings import ExplanationKind
from core.metrology.misreadings import explain
from core.metrology.readings import MM_PER_INCH, Reading
from tests.core.metrology.simulated_readings import HOUSE_COUPON, Array, random_truth, simulate

SETUP = MeasuringSetup()
Readings = list[Reading]


class Spoilt(Struct, frozen=True):
    """Readings with one blunder in them, and the explanation that names it."""

    readings: Readings
    kind: ExplanationKind
    features: tuple[Feature, ...]
    coupon: Coupon = HOUSE_COUPON


def _with_value(readings: Sequence[Reading], feature: Feature, change: Callable[[float], float]) -> Readings:
    return [replace(r, value=change(r.value)) if r.feature is feature else r for r in readings]


def _renamed(readings: Sequence[Reading], names: dict[Feature, Feature]) -> Readings:
    return [replace(r, feature=names.get(r.feature, r.feature)) for r in readings]


def _pick(rng: np.random.Generator, features: Sequence[Feature]) -> Feature:
    return features[int(rng.integers(len(features)))]


def _off(rng: np.random.Generator, readings: Readings, ring: Sequence[Feature], low: float, high: float) -> Spoilt:
    feature = _pick(rng, ring)
    error = rng.uniform(low, high) * rng.choice([-1.0, 1.0])
    return Spoilt(_with_value(readings, feature, lambda v: v + error), ExplanationKind.MISREAD, (feature,))


def edge_off(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    return _off(rng, readings, EDGES, 1.5, 3.0)


def diagonal_off(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    return _off(rng, readings, DIAGONALS, 1.0, 3.0)


def corner_off(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    return _off(rng, readings, CORNERS, 2.0, 5.0)


def diagonals_exchanged(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    names = dict(zip(DIAGONALS, reversed(DIAGONALS), strict=True))
    return Spoilt(_renamed(readings, names), ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER, DIAGONALS)


def turned_over(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    NL, NR, FR, FL = CORNERS
    names = {NL: NR, NR: NL, FR: FL, FL: FR}
    return Spoilt(_renamed(readings, names), ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER, DIAGONALS)


def inch_for_mm(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    feature = _pick(rng, EDGES + DIAGONALS)
    spoilt = _with_value(readings, feature, lambda v: round(v / MM_PER_INCH / 0.0005) * 0.0005)
    return Spoilt(spoilt, ExplanationKind.INCH_FOR_MM, (feature,))


def deviation_from_90(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    feature = _pick(rng, CORNERS)
    sign = rng.choice([-1.0, 1.0])
    return Spoilt(
        _with_value(readings, feature, lambda v: sign * (v - 90.0)), ExplanationKind.DEVIATION_FROM_90, (feature,)
    )


def neighbours_exchanged(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    place = int(rng.integers(4))
    first, second = EDGES[place], EDGES[(place + 1) % 4]
    return Spoilt(
        _renamed(readings, {first: second, second: first}), ExplanationKind.NEIGHBOURS_EXCHANGED, (first, second)
    )


def all_lengths_inch(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    spoilt = [
        replace(r, value=round(r.value / MM_PER_INCH / 0.0005) * 0.0005) if r.feature.is_length else r for r in readings
    ]
    return Spoilt(spoilt, ExplanationKind.ALL_LENGTHS_INCH, ())


def quarter_turn(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    step = int(rng.choice([1, 3]))
    names = dict(zip(DIAGONALS, reversed(DIAGONALS), strict=True))
    for ring in (EDGES, CORNERS):
        names |= {feature: ring[(place + step) % 4] for place, feature in enumerate(ring)}
    return Spoilt(_renamed(readings, names), ExplanationKind.QUARTER_TURN, ())


def supplement(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    feature = _pick(rng, CORNERS)
    return Spoilt(_with_value(readings, feature, lambda v: 180.0 - v), ExplanationKind.SUPPLEMENT, (feature,))


def digits_transposed(rng: np.random.Generator, readings: Readings, truth: Array) -> Spoilt:
    """The last digit before the point and the first after it, of a length where they differ."""
    lengths = [r for r in readings if r.feature.is_length and f"{r.value:.2f}"[-4] != f"{r.value:.2f}"[-2]]
    feature = lengths[int(rng.integers(len(lengths)))].feature

    def exchanged(value: float) -> float:
        text = f"{value:.2f}"
        return float(text[:-4] + text[-2] + "." + text[-4] + text[-1])

    return Spoilt(_with_value(readings, feature, exchanged), ExplanationKind.DIGITS_TRANSPOSED, (feature,))


Blunder = Callable[[np.random.Generator, Readings, Array], Spoilt]
# Each with the least skew in degrees at which it is tried: with no skew nothing tells the diagonals apart.
WITH_TARGET: dict[str, tuple[Blunder, float]] = {
    "edge off by 1.5 to 3 mm": (edge_off, 0.0),
    "diagonal off by 1 to 3 mm": (diagonal_off, 0.0),
    "corner off by 2 to 5 degrees": (corner_off, 0.0),
    "diagonals exchanged": (diagonals_exchanged, 0.4),
    "inch for mm": (inch_for_mm, 0.0),
    "deviation from 90": (deviation_from_90, 0.0),
    "neighbouring edges exchanged": (neighbours_exchanged, 0.0),
    "all lengths in inch": (all_lengths_inch, 0.0),
    "quarter turn": (quarter_turn, 0.0),
}
REPORTED: dict[str, tuple[Blunder, float]] = {
    "single supplement": (supplement, 0.0),
    "digits transposed": (digits_transposed, 0.0),
    "turned over, any skew": (turned_over, 0.0),
    "turned over, skew over 0.4": (turned_over, 0.4),
}


class Score(Struct, frozen=True):
    """Of `cases`: how often the right explanation came first, and how often the blunder was seen at all."""

    cases: int
    first: int
    seen: int


def _truth(rng: np.random.Generator, least_skew_deg: float) -> Array:
    while True:
        truth = random_truth(rng, SETUP)
        if abs(np.degrees(np.arctan2(truth[2], 1.0 + truth[1]))) >= least_skew_deg:
            return truth


def score(blunder: Blunder, least_skew_deg: float, cases: int, seed: int) -> Score:
    first = seen = 0
    for case in range(cases):
        rng = np.random.default_rng([seed, case])
        truth = _truth(rng, least_skew_deg)
        spoilt = blunder(rng, simulate(rng, truth, setup=SETUP), truth)
        adjustment = adjust(spoilt.coupon, spoilt.readings, SETUP)
        seen += not adjustment.consistent
        explanations = explain(spoilt.coupon, spoilt.readings, SETUP, adjustment)
        if explanations and (explanations[0].kind, set(explanations[0].features)) == (
            spoilt.kind,
            set(spoilt.features),
        ):
            first += 1
    return Score(cases, first, seen)


def false_alarms(cases: int, seed: int) -> int:
    """Clean coupons called inconsistent."""
    alarms = 0
    for case in range(cases):
        rng = np.random.default_rng([seed, case])
        alarms += not adjust(HOUSE_COUPON, simulate(rng, random_truth(rng, SETUP), setup=SETUP), SETUP).consistent
    return alarms

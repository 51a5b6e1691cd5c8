"""The guarded decision on a characteristic, and on the coupon.

Stage: after the adjustment. In: a value, its standard uncertainty and its limits. Out: a Verdict. Sources: conformance
probability JCGM 106:2012 (7.2 to 7.4, normal distribution); guarded rejection ISO 14253-1:2017 (95 %, one-sided).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

# 95 % one-sided: the guard factor of ISO 14253-1 and the least conformance probability of a "go".
REQUIRED_PROBABILITY = 0.95
GUARD_FACTOR = NormalDist().inv_cdf(REQUIRED_PROBABILITY)  # 1.645
# Nothing is settled while u is above this share of the tolerance: such a measurement cannot tell good from bad.
LARGEST_U_SHARE = 0.5


class Verdict(StrEnum):
    """What is said of a characteristic or a coupon."""

    GO = "go"
    NO_GO = "no-go"
    UNDECIDED = "undecided"
    INCONSISTENT = "inconsistent"


class CharacteristicGroup(StrEnum):
    """Squareness is the headline; size has a verdict of its own; information is not judged."""

    SQUARENESS = "squareness"
    SIZE = "size"
    INFORMATION = "information"


@dataclass(frozen=True, slots=True, kw_only=True)
class Characteristic:
    """A quantity with a tolerance. `value`, `lower`, `upper` and the standard uncertainty `u` are in `unit`.

    For information only, `lower`, `upper` and `conformance_probability` are None and the verdict is always undecided
    and counts nowhere. `name` is stable (`perpendicularity-nl`, `corner-nl`, `diagonal-difference`, `edge-near`, ...).
    """

    name: str
    label: str
    group: CharacteristicGroup
    unit: str
    value: float
    u: float
    nominal: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    conformance_probability: float | None

    @property
    def tolerance(self) -> float | None:
        """Half the width between the limits, None for information."""
        return None if self.lower is None or self.upper is None else (self.upper - self.lower) / 2.0

    @property
    def share(self) -> float:
        """Signed deviation from nominal over the tolerance: 1 is at the upper limit; 0 for information."""
        return (self.value - self.nominal) / self.tolerance if self.tolerance else 0.0


def conformance_probability(value: float, u: float, lower: float | None, upper: float | None) -> float:
    """Probability that the true value lies between the limits, given a normal state of knowledge (JCGM 106, 7.4).

    A limit that is None is not there (one-sided interval, JCGM 106, 7.3).
    """
    if u == 0.0:
        inside = (lower is None or value >= lower) and (upper is None or value <= upper)
        return 1.0 if inside else 0.0
    knowledge = NormalDist(value, u)
    above_upper = 0.0 if upper is None else 1.0 - knowledge.cdf(upper)
    below_lower = 0.0 if lower is None else knowledge.cdf(lower)
    return max(0.0, 1.0 - above_upper - below_lower)


def judge(value: float, u: float, lower: float, upper: float) -> Verdict:
    """Guarded verdict on one characteristic.

    Go when the conformance probability is at least 95 %; no-go when the value lies beyond a limit by more than
    1.645 u; undecided in between, and always while u is above half the tolerance.
    """
    if u > LARGEST_U_SHARE * (upper - lower) / 2.0:
        return Verdict.UNDECIDED
    if value - GUARD_FACTOR * u > upper or value + GUARD_FACTOR * u < lower:
        return Verdict.NO_GO
    if conformance_probability(value, u, lower, upper) >= REQUIRED_PROBABILITY:
        return Verdict.GO
    return Verdict.UNDECIDED


def combine(verdicts: Iterable[Verdict]) -> Verdict:
    """Verdict of a group: inconsistent before anything else, no-go if any is, go if all are, else undecided.

    A group without a single judged characteristic is undecided.
    """
    said = set(verdicts)
    for decisive in (Verdict.INCONSISTENT, Verdict.NO_GO):
        if decisive in said:
            return decisive
    return Verdict.GO if said == {Verdict.GO} else Verdict.UNDECIDED

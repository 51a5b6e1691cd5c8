"""The guarded decision on a characteristic, and on the coupon.

Stage: after the adjustment. In: a value, its standard uncertainty with its degrees of freedom, and its limits. Out: a
Verdict. Sources: conformance probability JCGM 106:2012 (7.2 to 7.4), the state of knowledge being Student's t where the
uncertainty itself is learned; guarded rejection ISO 14253-1:2017 (95 %, one-sided).
"""

import math
from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct

from core.metrology.distributions import student_cdf, student_quantile
from core.said import Said

# 95 % one-sided: the guard factor of ISO 14253-1 and the least conformance probability of a "go".
REQUIRED_PROBABILITY = 0.95
GUARD_FACTOR = 1.6448536269514715  # the normal quantile of REQUIRED_PROBABILITY
# Nothing is settled while u is above this share of the tolerance: such a measurement cannot tell good from bad.
LARGEST_U_SHARE = 0.5
# So far inside both limits neither tail holds more than 2.5 %, with three degrees of freedom or more (t 3.182).
_FAR_INSIDE_SDS, _FAR_INSIDE_NU = 3.2, 3.0
# By both limits together: 4 % may lie beyond the nearer and 1 % beyond the other.
_BY_NEARER, _BY_OTHER = 0.96, 0.99


class Verdict(StrEnum):
    """What is said of a characteristic or a coupon."""

    GO = "go"
    NO_GO = "no-go"
    UNDECIDED = "undecided"
    INCONSISTENT = "inconsistent"


class CharacteristicGroup(StrEnum):
    """Squareness of the machine, shape and size of the part have a verdict each; information is not judged."""

    SQUARENESS = "squareness"
    SHAPE = "shape"
    SIZE = "size"
    INFORMATION = "information"


class Characteristic(Struct, frozen=True, kw_only=True):
    """A quantity with a tolerance. `value`, `lower`, `upper` and the standard uncertainty `u` are in `unit`.

    `nu` are the degrees of freedom that `u` is known with. For information only, `lower` and `upper` are None and the
    verdict is always undecided and counts nowhere. `name` is stable
    (`squareness`, `perpendicularity-nl`, `corner-nl`, `edge-near`, ...).
    """

    name: str
    label: Said
    group: CharacteristicGroup
    unit: str
    value: float
    u: float
    nominal: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    nu: float = math.inf

    @property
    def U95(self) -> float:  # noqa: N802 - the expanded uncertainty's symbol in the GUM
        """Expanded uncertainty, 95 %."""
        return student_quantile(0.975, self.nu) * self.u

    @property
    def conformance_probability(self) -> float | None:
        """Probability that the true value lies within the limits; None for information."""
        if self.lower is None and self.upper is None:
            return None
        return conformance_probability(self.value, self.u, self.lower, self.upper, self.nu)

    @property
    def tolerance(self) -> float | None:
        """Half the width between the limits, None for information."""
        return None if self.lower is None or self.upper is None else (self.upper - self.lower) / 2.0

    @property
    def share(self) -> float:
        """Signed deviation from nominal over the tolerance: 1 is at the upper limit; 0 for information."""
        tolerance = self.tolerance
        return (self.value - self.nominal) / tolerance if tolerance else 0.0


def conformance_probability(
    value: float, u: float, lower: float | None, upper: float | None, nu: float = math.inf
) -> float:
    """Probability that the true value lies between the limits, given a state of knowledge (JCGM 106, 7.4).

    That is normal, or Student's t where `u` is known with `nu` degrees of freedom. A limit that is None is not there
    (one-sided interval, JCGM 106, 7.3).
    """
    if u == 0.0:
        inside = (lower is None or value >= lower) and (upper is None or value <= upper)
        return 1.0 if inside else 0.0
    above_upper = 0.0 if upper is None else student_cdf((value - upper) / u, nu)
    below_lower = 0.0 if lower is None else student_cdf((lower - value) / u, nu)
    return max(0.0, 1.0 - above_upper - below_lower)


def judge(value: float, u: float, lower: float, upper: float, nu: float = math.inf) -> Verdict:
    """Guarded verdict on one characteristic.

    Go when the conformance probability is at least 95 %; no-go when the value lies beyond a limit by more than
    t(0.95, nu) u; undecided in between, and always while u is above half the tolerance.
    """
    if u > LARGEST_U_SHARE * (upper - lower) / 2.0:
        return Verdict.UNDECIDED
    beyond = max(value - upper, lower - value)
    if nu >= _FAR_INSIDE_NU and -beyond >= _FAR_INSIDE_SDS * u:
        return Verdict.GO
    guard = student_quantile(REQUIRED_PROBABILITY, nu) * u
    if -guard < beyond <= guard:  # inside by less, the nearer limit alone takes more than 5 %
        return Verdict.UNDECIDED
    if beyond > 0.0:
        return Verdict.NO_GO
    to_nearer, to_other = -beyond, upper - lower + beyond
    if to_nearer >= student_quantile(_BY_NEARER, nu) * u and to_other >= student_quantile(_BY_OTHER, nu) * u:
        return Verdict.GO
    conforms = conformance_probability(value, u, lower, upper, nu) >= REQUIRED_PROBABILITY
    return Verdict.GO if conforms else Verdict.UNDECIDED


# The worst first: what a person must not be told last.
_WORST_FIRST = (Verdict.INCONSISTENT, Verdict.NO_GO, Verdict.UNDECIDED, Verdict.GO)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst word of several groups; undecided where there is none."""
    said = set(verdicts)
    return next((verdict for verdict in _WORST_FIRST if verdict in said), Verdict.UNDECIDED)


def combine(verdicts: Iterable[Verdict]) -> Verdict:
    """Verdict of a group: inconsistent before anything else, no-go if any is, go if all are, else undecided.

    A group without a single judged characteristic is undecided.
    """
    said = set(verdicts)
    for decisive in (Verdict.INCONSISTENT, Verdict.NO_GO):
        if decisive in said:
            return decisive
    return Verdict.GO if said == {Verdict.GO} else Verdict.UNDECIDED

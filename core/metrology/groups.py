"""The three things a coupon is judged for, each with its word, and whether that word is settled.

Stage: after the characteristics. In: an adjustment, measurands and their characteristics. Out: a `GroupVerdict` each.
Settled means: no slip that could pass unseen would change the word (external reliability; W. Baarda, A testing
procedure for use in geodetic networks, 1968). A slip made alike in every repeat is not covered: that is the witness's.

Squareness is looked at after every reading until it is settled. Who stops at the first look that says 95 % is wrong at
the limit more often than 5 % (A. Wald, Sequential Analysis, 1947), so a look settles at more (S. Pocock, Group
sequential methods, Biometrika 64, 1977, has 97 % for two looks that share half of what they know; from memory), and
only where it is worth while is there another one (next_reading.py). From seat to seat all looks know nearly the same,
from corner to corner the corners' angles bring much that is new, and with it new chances to be wrong: found so that
less than 6 % of coupons at the limit are called GO, by all looks together, in tests/endurance/world.
"""

import math
from collections.abc import Collection, Sequence

from msgspec import Struct

from core.geometry import SHAPE_PARAMETERS, Coupon, Feature
from core.metrology.adjustment import MAX_SHAPE_SDS, Adjustment
from core.metrology.characteristics import GROUPS, Measurand
from core.metrology.distributions import student_quantile
from core.metrology.measuring_model import shape_prior_sds
from core.metrology.reliability import LOCAL_LIMIT
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, combine
from core.numeric import np

_SETTLED_SEATED, _SETTLED_CORNERS = 0.955, 0.965  # of a word on squareness, at any one look
_NOTHING = 1e-12  # a reading that moves a characteristic by less does not bear on it


class GroupVerdict(Struct, frozen=True, kw_only=True):
    """The word on one group. `asked` is False for what is not measured: its word counts nowhere.

    `judged` is False where no limit reaches it. `again` is the feature whose reading again would do most for the word
    to be settled; None where it is, or where no reading bears on it.
    """

    group: CharacteristicGroup
    verdict: Verdict
    settled: bool
    asked: bool
    judged: bool
    again: Feature | None


def asked_groups(
    features: Collection[Feature], named: Collection[CharacteristicGroup] | None
) -> tuple[CharacteristicGroup, ...]:
    """The groups asked for: those named, or those that one of the features read bears on."""
    if named is not None:
        return tuple(group for group in GROUPS if group in named)
    kinds = {feature.kind.value for feature in features}
    wanted = {
        CharacteristicGroup.SQUARENESS: bool(kinds & {"diagonal", "corner"}),
        CharacteristicGroup.SHAPE: bool(kinds & {"edge", "corner"}),
        CharacteristicGroup.SIZE: "edge" in kinds,
    }
    return tuple(group for group in GROUPS if wanted[group])


def group_verdicts(
    adjustment: Adjustment,
    measured: Sequence[Measurand],
    judged: Sequence[Characteristic],
    asked: Collection[CharacteristicGroup],
) -> tuple[GroupVerdict, ...]:
    """The word on each group, in the order squareness, shape, size; `judged` are the characteristics of `measured`."""
    clean = adjustment.consistent and not adjustment.learned.disagreeing and not flagged(adjustment)
    moved = unseen_shifts(adjustment, measured)
    return tuple(_group_verdict(group, adjustment, judged, moved, clean, group in asked) for group in GROUPS)


def flagged(adjustment: Adjustment) -> tuple[Feature, ...]:
    """Features whose standardised residual is above 3.29, the largest first: read them again."""
    beyond = [r for r in adjustment.readings if abs(r.standardised_residual) > LOCAL_LIMIT]
    return tuple(r.feature for r in sorted(beyond, key=lambda r: -abs(r.standardised_residual)))


def unseen_shifts(adjustment: Adjustment, measured: Sequence[Measurand]) -> list[list[float]]:
    """How far a slip in each feature could move each measurand and hardly be noticed, a row a measurand.

    A slip that nothing else controls shows at last in a shape beyond reason, which bounds it.
    """
    gain = adjustment.gain[:SHAPE_PARAMETERS]
    gradients = np.array([m.gradient for m in measured]).reshape(-1, SHAPE_PARAMETERS)
    unseen = [reading.unseen for reading in adjustment.readings]
    in_sds = np.abs(gain) / np.array(shape_prior_sds(adjustment.coupon))[:, None]
    beyond_reason = MAX_SHAPE_SDS / np.maximum(in_sds.max(0, initial=0.0), 1e-300)
    moved: list[list[float]] = (np.abs(gradients @ gain) * np.minimum(unseen, beyond_reason)).tolist()
    return moved


def _group_verdict(
    group: CharacteristicGroup,
    adjustment: Adjustment,
    judged: Sequence[Characteristic],
    moved: Sequence[Sequence[float]],
    clean: bool,
    asked: bool,
) -> GroupVerdict:
    places = [place for place, characteristic in enumerate(judged) if characteristic.group is group]
    verdict = Verdict.INCONSISTENT
    if adjustment.consistent:
        verdict = combine(judged[place].verdict for place in places)
        if adjustment.learned.disagreeing:
            verdict = Verdict.UNDECIDED  # nothing is said of repeats that contradict one another
    unseen = {place: max(moved[place], default=0.0) for place in places}
    guards = dict.fromkeys(places, 0.0)
    if group is CharacteristicGroup.SQUARENESS:
        guards = {place: guard(adjustment.coupon, judged[place].u, judged[place].nu) for place in places}
    margins = [(_margin(judged[place], max(unseen[place], guards[place]), verdict), place) for place in places]
    if verdict is Verdict.NO_GO:  # a single characteristic that is surely outside is enough
        decisive = max((m for m in margins if judged[m[1]].verdict is Verdict.NO_GO), default=None)
    else:
        decisive = min(margins, default=None)
    settled = clean and decisive is not None and decisive[0] > 0.0 and verdict in (Verdict.GO, Verdict.NO_GO)
    again = None
    if decisive is not None and not settled and adjustment.readings:
        place = decisive[1]
        narrow = verdict is not Verdict.UNDECIDED and guards[place] > unseen[place]
        again = None if narrow else _weakest(adjustment, moved[place])
    return GroupVerdict(
        group=group,
        verdict=verdict,
        settled=settled,
        asked=asked and bool(places),
        judged=bool(places),
        again=again,
    )


def guard(coupon: Coupon, u: float, nu: float) -> float:
    """How far from its limit squareness must lie, in the unit of `u`, to be settled although it is looked at again."""
    return student_quantile(_SETTLED_CORNERS if coupon.seats is None else _SETTLED_SEATED, nu) * u


def _margin(characteristic: Characteristic, needed: float, verdict: Verdict) -> float:
    """What is left, over the tolerance, between the value and its limit after what is needed: room for the largest slip
    that could pass, or the guard."""
    share, tolerance = abs(characteristic.share), characteristic.tolerance or math.inf
    left = share - 1.0 if verdict is Verdict.NO_GO else 1.0 - share
    return left - needed / tolerance


def _weakest(adjustment: Adjustment, moved: Sequence[float]) -> Feature | None:
    most = max(moved)
    return adjustment.readings[moved.index(most)].feature if most > _NOTHING else None

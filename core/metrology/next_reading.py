"""Which reading to take next: whatever settles the groups asked for in the fewest, squareness first.

Stage: after the groups. In: an Evaluation and what can be read with the instruments at hand. Out: a feature and why, or
None when nothing more is worth asking for. The order: what is suspect; both diagonals, each twice; the cheapest witness
where the machine has to be moved; edges, each twice, for shape and size; then what is left of twelve readings for a
word near its limit.
"""

from collections.abc import Collection, Sequence

from core.geometry import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.findings import NextReading, NextReason
from core.metrology.forecast import Forecast, squareness_of
from core.metrology.groups import flagged
from core.metrology.judgement import Evaluation
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import (
    corners_agree,
    names_are_in_doubt,
    names_are_proven,
    skews_say_different_words,
)

MOST_READINGS = 12  # without a settled word by then, the coupon is too close to the limit
MOST_WITH_SUSPECTS = 16  # a whole coupon takes twelve, and a slip in the last of them can still be mended
MAX_COUNT = 3  # repeats of one feature, but for diagonals of a word near its limit
SUSPECT_COUNT = 5  # readings of a feature that contradicts itself or the others
CORNERS_TWICE = 2


def are_read_twice(evaluation: Evaluation) -> bool:
    """Whether both diagonals are."""
    counts = {reading.feature: reading.count for reading in evaluation.adjustment.readings}
    return all(counts.get(diagonal, 0) > 1 for diagonal in DIAGONALS)


def is_exhausted(evaluation: Evaluation, following: NextReading | None) -> bool:
    """Whether nothing that may still be read brings a word on squareness: twelve readings are taken, or both diagonals
    are read twice and no plan for what is left of twelve is worth while."""
    hopeless = following is None and are_read_twice(evaluation) and _wants(evaluation, CharacteristicGroup.SQUARENESS)
    return hopeless or _count(evaluation) >= MOST_READINGS


def too_close(evaluation: Evaluation, following: NextReading | None) -> bool:
    """No settled word, and none to be had: a larger coupon or a second cut tells more than another reading. It is
    another thing where readings do not fit."""
    suspect = following is not None and following.reason is NextReason.SUSPECT
    if suspect or evaluation.adjustment.learned.disagreeing:
        return False
    return is_exhausted(evaluation, following) and not evaluation.settled and evaluation.adjustment.consistent


def is_a_toss_up(evaluation: Evaluation, following: NextReading | None) -> bool:
    """Whether the word on squareness only changes with chance: it was looked at after every reading, both diagonals are
    read twice, and all that could be read did not settle it. An unsettled word is then none."""
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    return (
        squareness.verdict in (Verdict.GO, Verdict.NO_GO)
        and not squareness.settled
        and is_exhausted(evaluation, following)
        and are_read_twice(evaluation)
        and not names_are_in_doubt(evaluation)
        and not flagged(evaluation.adjustment)
    )


def next_reading(
    evaluation: Evaluation,
    setup: MeasuringSetup,
    *,
    suspects: Sequence[Feature] = (),
    among: Collection[Feature] = TEN_FEATURES,
) -> NextReading | None:
    """The reading to take next; `among` are the features that can be read with the instruments at hand."""
    counts = {reading.feature: reading.count for reading in evaluation.adjustment.readings}
    if _count(evaluation) < MOST_WITH_SUSPECTS:
        for feature in suspects:
            if feature in among and counts.get(feature, 0) < SUSPECT_COUNT:
                return NextReading(feature=feature, reason=NextReason.SUSPECT)
    if not evaluation.adjustment.consistent:
        return None
    if evaluation.seats_in_doubt:  # a look at the corners tells, and so do the sizes
        unread = [edge for edge in _ENOUGH_EDGES if edge in among and edge not in counts]
        return NextReading(feature=unread[0], reason=NextReason.FIRST) if unread else None
    wanted = (
        _for_squareness(evaluation, counts, among)
        or _for_witness(evaluation, counts, among)
        or _for_the_part(evaluation, counts, among)
        or _near_the_limit(evaluation, setup, counts, among)
    )
    if wanted is None:
        return None
    return NextReading(feature=wanted, reason=NextReason.AGAIN if counts.get(wanted, 0) else NextReason.FIRST)


def _count(evaluation: Evaluation) -> int:
    return sum(evaluation.adjustment.means.counts)


def _wants(evaluation: Evaluation, group: CharacteristicGroup) -> bool:
    """Whether a group is to be settled: it has a limit, it was not left out by name, and is still open."""
    found = evaluation.group(group)
    return found.judged and not found.settled and (evaluation.named is None or group in evaluation.named)


def _least_read(counts: dict[Feature, int], features: Sequence[Feature], most: int) -> Feature | None:
    """The first of those read least often, as long as that is less than `most` times."""
    least = min(features, key=lambda feature: counts.get(feature, 0), default=None)
    return least if least is not None and counts.get(least, 0) < most else None


def _for_squareness(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """Both diagonals, each twice; where they cannot be read, all corners."""
    if not _wants(evaluation, CharacteristicGroup.SQUARENESS):
        return None
    if all(diagonal in among for diagonal in DIAGONALS):
        return _least_read(counts, DIAGONALS, 2)
    return _least_read(counts, [corner for corner in CORNERS if corner in among], 2)


def _for_witness(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """The corners, where a move is called for and nothing proves which diagonal is which, or where they contradict the
    word by lengths.

    The opposite pair NL and FR first: together they show the skew free of any taper.
    """
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    settled = squareness.verdict is Verdict.NO_GO and squareness.settled
    called_for = squareness.asked and (settled or names_are_in_doubt(evaluation))
    left = squareness.asked and not settled and _count(evaluation) < MOST_READINGS
    needless = not called_for or names_are_proven(evaluation) or corners_agree(evaluation)
    if needless and not (left and skews_say_different_words(evaluation)):
        return None
    NL, NR, FR, FL = CORNERS
    return _least_read(counts, [corner for corner in (NL, FR, NR, FL) if corner in among], CORNERS_TWICE)


def _for_the_part(evaluation: Evaluation, counts: dict[Feature, int], among: Collection[Feature]) -> Feature | None:
    """Edges not read yet, in their order; then the feature whose slip would do most to a word on shape or size."""
    groups = [group for group in (CharacteristicGroup.SIZE, CharacteristicGroup.SHAPE) if _wants(evaluation, group)]
    if not groups or _count(evaluation) >= MOST_READINGS:
        return None
    if evaluation.do_first:  # the zero, or the sizes: the diagonals tell
        return _least_read(counts, [diagonal for diagonal in DIAGONALS if diagonal in among], 1)
    first = _least_read(counts, [edge for edge in EDGES if edge in among], 1)
    if first is not None:
        return first
    for group in groups:
        again = evaluation.group(group).again
        if again is not None and again in among and counts.get(again, 0) < MAX_COUNT:
            return again
    return None


def _near_the_limit(
    evaluation: Evaluation, setup: MeasuringSetup, counts: dict[Feature, int], among: Collection[Feature]
) -> Feature | None:
    """The next of those readings, as many as are left of twelve, that bring squareness nearest to a word; None where
    even they would hardly bring one: chance alone would, and too often a wrong one."""
    left, squareness = MOST_READINGS - _count(evaluation), squareness_of(evaluation)
    if not _wants(evaluation, CharacteristicGroup.SQUARENESS) or left <= 0 or squareness is None:
        return None
    found = evaluation.group(CharacteristicGroup.SQUARENESS)
    if found.verdict is not Verdict.UNDECIDED and found.again in among:
        if found.again not in DIAGONALS:
            return found.again
        # Repeats of one diagonal are judged by the scatter of the other's: that one first, then in turn.
        other_first = sorted(DIAGONALS, key=lambda diagonal: diagonal is found.again)
        return _least_read(counts, other_first, MOST_READINGS)
    forecast = Forecast(evaluation, setup, squareness)
    plan = min(_plans(counts, left, among), key=forecast.needed, default=())
    return plan[0] if plan and forecast.is_worth_while(plan) else None


def _plans(counts: dict[Feature, int], left: int, among: Collection[Feature]) -> list[tuple[Feature, ...]]:
    """Ways to spend the readings that are left: an edge twice or none (keyed seats show the proportion of a coupon as a
    skew), corners in whole rounds, and diagonals, in turn, first."""
    diagonals = DIAGONALS if all(diagonal in among for diagonal in DIAGONALS) else ()
    corners = CORNERS if all(corner in among for corner in CORNERS) else ()
    edges: list[tuple[Feature, ...]] = [()]
    edges += [
        (edge,) * (2 - counts.get(edge, 0)) for edge in _ENOUGH_EDGES if edge in among and counts.get(edge, 0) < 2
    ]
    begun = -sum(counts.get(corner, 0) for corner in corners) % len(CORNERS)
    plans = []
    for edge in edges:
        for rounds in {0, *range(begun, left + 1, len(CORNERS))} if corners else {0}:
            spent = len(edge) + rounds
            if spent <= left:
                plans.append((*_in_turn(counts, diagonals, left - spent), *edge, *_in_turn(counts, corners, rounds)))
    return plans


_ENOUGH_EDGES = (Feature.NEAR, Feature.LEFT)  # one of a pair tells the scale of its axis


def _in_turn(counts: dict[Feature, int], features: Sequence[Feature], readings: int) -> list[Feature]:
    """So many readings of some features, those read least often first."""
    read, turns = {feature: counts.get(feature, 0) for feature in features}, []
    for _ in range(readings if features else 0):
        turns.append(min(features, key=lambda feature: read[feature]))
        read[turns[-1]] += 1
    return turns

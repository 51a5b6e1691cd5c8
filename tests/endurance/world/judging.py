"""The real judgement at work on a table of displays: reading by reading as the bench asks, or on a fixed set.

Input: displays (m, 10, repeats) of one world. Output: an `Outcome` a coupon. What judges is the function behind
`cornerwise evaluate`, with the witness and the move that a person would be told; nothing is decided here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct, field

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, TEN_FEATURES, Feature
from core.machine.directions import Direction, Side
from core.machine.gantry_correction import profile_of_span
from core.machine.move import end_and_direction, move_of_skew
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import Evaluation, NextReading, NextReason, evaluate
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import Limits
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import Answers, MarkSeen, MoveEvidence, move_evidence
from tests.endurance.world.cutting import Array
from tests.endurance.world.worlds import BARE

SPAN_MM = 640.0
LIMITS = Limits(source="own limits", perpendicularity_mm=0.4)
MOST_READINGS = 12
_SQUARENESS = (CharacteristicGroup.SQUARENESS,)
ALL_GROUPS = (CharacteristicGroup.SQUARENESS, CharacteristicGroup.SHAPE, CharacteristicGroup.SIZE)
QUICK = DIAGONALS + DIAGONALS
ALL_TWICE = TEN_FEATURES + TEN_FEATURES


class Question(Struct, frozen=True):
    """What is known beside the readings: coupon, limits, setup, which groups, and what the person answers.

    `wants_move`: a GO is not enough, the person asks for the move as well.
    """

    coupon: Coupon = field(default_factory=lambda: BARE)
    setup: MeasuringSetup = field(default_factory=MeasuringSetup)
    limits: Limits = LIMITS
    groups: tuple[CharacteristicGroup, ...] = _SQUARENESS
    answers: Answers = field(default_factory=lambda: Answers(mark=MarkSeen.NL))
    among: tuple[Feature, ...] = TEN_FEATURES
    wants_move: bool = False


class Outcome(Struct, frozen=True):
    """What was said at the end. `intervals` are value and U by name; the move is that of the right end, away positive.

    `settled_after` and `moved_after` count readings, None where it never came to that; `held` says why no move.
    """

    word: str
    settled: bool
    intervals: dict[str, tuple[float, float]]
    settled_after: int | None
    moved_after: int | None
    move: tuple[float, float] | None
    held: str
    told_too_close: bool
    readings: int


class Judge(Protocol):
    """Judges one coupon from its displays (10, repeats)."""

    def __call__(self, displays: Array, question: Question) -> Outcome:
        """What was said."""
        ...


def fixed(features: Sequence[Feature]) -> Judge:
    """Judge after these readings, whatever would be asked next."""

    def judge(displays: Array, question: Question) -> Outcome:
        taken = _taken(displays, features)
        return _outcome(_evaluated(taken, question), question, len(taken), None, None)

    return judge


def as_the_bench_asks(first: Sequence[Feature] = ()) -> Judge:
    """Read what is asked for next and void what is offered, until word and move are there, nothing more is asked, or
    twelve are read and none of them is suspect.

    `first` are readings that everybody takes without being asked (the quick check); they are judged only at their end.
    """

    def judge(displays: Array, question: Question) -> Outcome:
        taken = _taken(displays, first)
        settled_after = moved_after = None
        while True:
            evaluation = _voided(taken, question)
            if evaluation.settled and settled_after is None:
                settled_after = len(taken)
            wants = evaluation.settled and (question.wants_move or evaluation.verdict is Verdict.NO_GO)
            held = move_evidence(evaluation, question.answers) if wants else None
            if held is not None and held.witness is not None:
                moved_after = len(taken)
            if (evaluation.settled and not wants) or moved_after is not None:
                break
            if len(taken) >= MOST_READINGS and not _is_suspect(evaluation.next_reading):
                break
            following = _following(evaluation, held.read if held is not None else (), taken)
            if following is None:
                break
            taken.append(_reading(displays, following, taken))
        return _outcome(evaluation, question, len(taken), settled_after, moved_after)

    return judge


def _voided(taken: Sequence[Reading], question: Question) -> Evaluation:
    """Judged as a person leaves it who says yes wherever a reading that sticks out is offered for voiding."""
    kept = list(taken)
    evaluation = _evaluated(kept, question)
    while True:
        read = next((read for read in evaluation.adjustment.learned.features if read.outlier is not None), None)
        if read is None:
            return evaluation
        kept.remove(next(r for r in kept if r.feature is read.feature and r.value == read.outlier))
        evaluation = _evaluated(kept, question)


def _is_suspect(following: NextReading | None) -> bool:
    return following is not None and following.reason is NextReason.SUSPECT


def _following(evaluation: Evaluation, read: Sequence[Feature], taken: Sequence[Reading]) -> Feature | None:
    """What the bench would ask for: the witness of a move where one is wanted, else its next reading."""
    counts = {feature: sum(reading.feature is feature for reading in taken) for feature in read}
    if read:
        return min(read, key=lambda feature: counts[feature])
    return None if evaluation.next_reading is None else evaluation.next_reading.feature


def _taken(displays: Array, features: Sequence[Feature]) -> list[Reading]:
    taken: list[Reading] = []
    for feature in features:
        taken.append(_reading(displays, feature, taken))
    return taken


def _reading(displays: Array, feature: Feature, taken: Sequence[Reading]) -> Reading:
    repeat = sum(reading.feature is feature for reading in taken)
    value = float(displays[TEN_FEATURES.index(feature), repeat])
    return Reading(feature=feature, value=value, unit=Unit.MM if feature.is_length else Unit.DEG)


def _evaluated(taken: Sequence[Reading], question: Question) -> Evaluation:
    return evaluate(
        question.coupon, taken, question.limits, question.setup, groups=question.groups, among=question.among
    )


def _outcome(
    evaluation: Evaluation, question: Question, readings: int, settled_after: int | None, moved_after: int | None
) -> Outcome:
    group = evaluation.group(CharacteristicGroup.SQUARENESS)
    evidence = move_evidence(evaluation, question.answers)
    told = question.wants_move or (group.settled and group.verdict is Verdict.NO_GO)
    move = _right_end(evidence) if told and evidence.witness is not None else None
    return Outcome(
        word=str(group.verdict.value),
        settled=group.settled,
        intervals=_intervals(evaluation),
        settled_after=settled_after,
        moved_after=moved_after if move is not None else None,
        move=move,
        held="" if evidence.held is None else evidence.held.value,
        told_too_close=evaluation.too_close,
        readings=readings,
    )


def _intervals(evaluation: Evaluation) -> dict[str, tuple[float, float]]:
    skew = evaluation.adjustment.skew_deg
    intervals = {"skew": (math.tan(math.radians(skew.value)) * _side(evaluation), _side(evaluation) * _rad(skew.U95))}
    for item in evaluation.characteristics:
        intervals[item.name] = (item.value, item.U95)
    return intervals


def _side(evaluation: Evaluation) -> float:
    return evaluation.coupon.shorter_side_mm


def _rad(deg: float) -> float:
    return math.radians(deg)


def _right_end(evidence: MoveEvidence) -> tuple[float, float]:
    """Signed move of the right end, away from the operator positive, and its U."""
    profile = profile_of_span(SPAN_MM)
    move = move_of_skew(evidence.skew_deg, SPAN_MM)
    end, direction = end_and_direction(evidence.skew_deg.value, profile)
    away = (1.0 if direction is Direction.FARTHER else -1.0) * (1.0 if end is Side.RIGHT else -1.0)
    return away * evidence.share * move.value, evidence.share * move.U95

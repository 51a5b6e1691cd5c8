"""Everything that can be said of a coupon from its readings: the one call behind screens, files and command line.

Stage: readings to judgement. In: coupon, readings, limits, measuring setup. Out: an Evaluation.
"""

from collections.abc import Collection, Iterator, Sequence

from msgspec.structs import replace

from core.geometry import TEN_FEATURES, Coupon, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.characteristics import SKEW_NAMES, Scope, characteristics, in_two_ways, measurands
from core.metrology.expansion import ExpansionDifference
from core.metrology.findings import Explanation, ExplanationKind, NextReading, NextReason
from core.metrology.groups import GroupVerdict, asked_groups, group_verdicts
from core.metrology.judgement import Evaluation
from core.metrology.misreadings import explain, sign_open, suspects
from core.metrology.next_reading import are_read_twice, is_a_toss_up, next_reading, too_close
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, combine
from core.metrology.witness import names_are_in_doubt, skews_say_different_words

# The vocabulary of an evaluation, in one place for those who show it.
__all__ = ["Evaluation", "Explanation", "ExplanationKind", "NextReading", "NextReason", "Scope", "evaluate"]


def evaluate(
    coupon: Coupon,
    readings: Sequence[Reading],
    limits: Limits,
    setup: MeasuringSetup,
    *,
    groups: Collection[CharacteristicGroup] | None = None,
    expansion: ExpansionDifference | None = None,
    among: Collection[Feature] = TEN_FEATURES,
) -> Evaluation:
    """Judge a coupon from any readings, in any order.

    Contradictory readings give the verdict `inconsistent`, never an error. `groups` are those asked for by name, None:
    those that the readings bear on. `expansion` brings the sizes to 20 degrees Celsius; `among` are the features that
    the instruments at hand can read: only those are asked for.
    """
    adjustment = adjust(coupon, readings, setup)
    measured = measurands(adjustment, limits)
    judged = characteristics(adjustment, measured, expansion)
    asked = asked_groups([reading.feature for reading in adjustment.readings], groups)
    verdicts = group_verdicts(adjustment, measured, judged, asked)
    explanations = explain(coupon, readings, setup, adjustment)
    evaluation = Evaluation(
        coupon=coupon,
        readings=tuple(readings),
        setup=setup,
        limits=limits,
        adjustment=adjustment,
        characteristics=tuple(
            characteristic
            for measurand, characteristic in zip(measured, judged, strict=True)
            if measurand.group in asked
        ),
        groups=verdicts,
        sign_open=sign_open(explanations),
        explanations=explanations,
        next_reading=None,
        too_close=False,
        named=None if groups is None else asked,
        expansion=expansion,
    )
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    if are_read_twice(evaluation) and skews_say_different_words(evaluation):
        undecided = Verdict.UNDECIDED if evaluation.adjustment.consistent else squareness.verdict
        evaluation = _with(evaluation, replace(squareness, verdict=undecided, settled=False))
    elif evaluation.seats_in_doubt and squareness.verdict is not Verdict.INCONSISTENT:
        evaluation = _with(evaluation, replace(squareness, verdict=Verdict.UNDECIDED, settled=False))
    elif names_are_in_doubt(evaluation):
        evaluation = _with(evaluation, replace(squareness, settled=False))
    size = evaluation.group(CharacteristicGroup.SIZE)
    if evaluation.do_first and size.verdict is not Verdict.INCONSISTENT:
        evaluation = _with(evaluation, replace(size, verdict=Verdict.UNDECIDED, settled=False))
    following = next_reading(evaluation, setup, suspects=suspects(adjustment, explanations), among=among)
    if is_a_toss_up(evaluation, following):
        evaluation = _with(evaluation, replace(squareness, verdict=Verdict.UNDECIDED, settled=False))
    return replace(
        evaluation,
        characteristics=tuple(_shown(evaluation)),
        too_close=too_close(evaluation, following),
        next_reading=following,
    )


def _shown(evaluation: Evaluation) -> Iterator[Characteristic]:
    """The characteristics as they may stand in a table: none has a word that its group was denied, and squareness is
    not the average of lengths and corners that contradict each other."""
    open_ones = {one.group for one in evaluation.groups if one.verdict is Verdict.UNDECIDED}
    denied = {
        group
        for group in open_ones
        if combine(one.verdict for one in evaluation.characteristics if one.group is group) is not Verdict.UNDECIDED
    }
    for one in evaluation.characteristics:
        averaged = one.name in SKEW_NAMES and evaluation.skews_disagree
        wordless = one.group in (open_ones if averaged else denied)
        for shown in in_two_ways(one, evaluation.skew_by, evaluation.coupon) if averaged else (one,):
            yield replace(shown, verdict=Verdict.UNDECIDED) if wordless else shown


def _with(evaluation: Evaluation, changed: GroupVerdict) -> Evaluation:
    """The same but for the word on one group."""
    groups = (changed if one.group is changed.group else one for one in evaluation.groups)
    return replace(evaluation, groups=tuple(groups))

"""Everything that can be said of a coupon from its readings: the one call behind screens, files and command line.

Stage: readings to judgement. In: coupon, readings, limits, measuring setup. Out: an Evaluation. Squareness is the
headline; size has a verdict of its own, so that kerf alone does not make a square machine read no-go.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, TEN_FEATURES, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, adjust
from core.metrology.characteristics import Scope, characteristics, measurands
from core.metrology.expansion import ExpansionDifference
from core.metrology.findings import Explanation, ExplanationKind, NextReading, NextReason
from core.metrology.kerf import SizeFinding, size_finding
from core.metrology.misreadings import explain, repeats_agree, sign_open, suspects
from core.metrology.next_reading import next_reading
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, combine

# The vocabulary of an evaluation, in one place for those who show it.
__all__ = ["Evaluation", "Explanation", "ExplanationKind", "NextReading", "NextReason", "Scope", "evaluate"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evaluation:
    """The whole judgement. `verdict` is the headline (squareness), `size_verdict` stands beside it.

    `cross_checked` is False while a misread diagonal could pass unseen. `sign_open` is True when the direction of the
    skew cannot be told from the readings. `settled` means: the headline is final and cross-checked, measuring may end.
    `size_finding` says what the sizes point to (kerf, scale); None before they are read, or while readings contradict.
    `scope` and `expansion` are what it was judged with.
    """

    coupon: Coupon
    limits: Limits
    adjustment: Adjustment
    characteristics: tuple[Characteristic, ...]
    verdict: Verdict
    size_verdict: Verdict
    cross_checked: bool
    sign_open: bool
    settled: bool
    explanations: tuple[Explanation, ...]
    next_reading: NextReading | None
    size_finding: SizeFinding | None = None
    scope: Scope = Scope.ALL
    expansion: ExpansionDifference | None = None

    @property
    def size_judged(self) -> bool:
        """False in the quick check, and where no edge has a limit: `size_verdict` is then undecided for good."""
        return any(item.group is CharacteristicGroup.SIZE for item in self.characteristics)

    @property
    def worst(self) -> Characteristic | None:
        """The squareness characteristic that uses most of its tolerance; None where none is judged."""
        judged = [item for item in self.characteristics if item.group is CharacteristicGroup.SQUARENESS]
        return max(judged, key=lambda item: abs(item.share), default=None)


def evaluate(
    coupon: Coupon,
    readings: Sequence[Reading],
    limits: Limits,
    setup: MeasuringSetup,
    *,
    scope: Scope = Scope.ALL,
    expansion: ExpansionDifference | None = None,
    among: Collection[Feature] = TEN_FEATURES,
) -> Evaluation:
    """Judge a coupon from any readings, in any order.

    Contradictory readings give the verdict `inconsistent`, never an error. `scope` chooses the quick check (squareness
    alone, by the skew); `expansion` brings the sizes to 20 degrees Celsius; `among` are the features that the
    instruments at hand can read: only those are asked for.
    """
    adjustment = adjust(coupon, readings, setup)
    judged = characteristics(adjustment, limits, scope=scope, expansion=expansion)
    verdict = _group_verdict(adjustment, judged, CharacteristicGroup.SQUARENESS)
    cross_checked = _is_cross_checked(readings, setup)
    explanations = explain(coupon, readings, setup, adjustment)
    return Evaluation(
        coupon=coupon,
        limits=limits,
        adjustment=adjustment,
        characteristics=judged,
        verdict=verdict,
        size_verdict=_group_verdict(adjustment, judged, CharacteristicGroup.SIZE),
        cross_checked=cross_checked,
        sign_open=sign_open(explanations),
        settled=verdict in (Verdict.GO, Verdict.NO_GO) and cross_checked,
        explanations=explanations,
        next_reading=next_reading(
            adjustment,
            setup,
            judged=list(zip(measurands(adjustment, limits, scope), judged, strict=True)),
            cross_checked=cross_checked,
            suspects=suspects(adjustment, readings, setup, explanations),
            among=among,
        ),
        size_finding=size_finding(adjustment, readings, setup, expansion) if adjustment.consistent else None,
        scope=scope,
        expansion=expansion,
    )


def _group_verdict(adjustment: Adjustment, judged: Sequence[Characteristic], group: CharacteristicGroup) -> Verdict:
    if not adjustment.consistent:
        return Verdict.INCONSISTENT
    return combine(characteristic.verdict for characteristic in judged if characteristic.group is group)


def _is_cross_checked(readings: Sequence[Reading], setup: MeasuringSetup) -> bool:
    """Whether something stands against a misread diagonal: all four corners, or a second reading of both diagonals.

    Repeats of a diagonal that disagree check nothing: one of them is misread.
    """
    read = {feature: [reading for reading in readings if reading.feature is feature] for feature in TEN_FEATURES}
    if not all(repeats_agree(read[feature], setup) for feature in DIAGONALS):
        return False
    return all(read[feature] for feature in CORNERS) or all(len(read[feature]) >= 2 for feature in DIAGONALS)

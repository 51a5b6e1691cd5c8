"""Before and after: two sessions of one machine side by side, and the one word for what became of it.

Stage: proof. Input: the evaluation before, those after (one coupon or more), and the correction made between them.
Output: the change with its uncertainty, the outcome, the prediction held against the re-cut. Uncertainties of the two
sessions are taken as independent; what an instrument does alike in both is thus counted twice, which is safe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from core.geometry.features import Feature
from core.machine.gantry_correction import Correction
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation
from core.metrology.verdict import Characteristic, Verdict, combine

# Ten comparisons at 95 % together: each at 99.5 % (two-sided normal).
_FORETOLD_SDS = 2.80


class Outcome(StrEnum):
    """What became of the machine."""

    FIXED = "fixed"
    FIXED_ON_TWO = "fixed-on-two"
    STILL_WITHIN = "still-within"
    BETTER = "better"
    NO_CHANGE = "no-change"
    WORSE = "worse"
    WRONG_WAY = "wrong-way"
    TOO_FAR = "too-far"
    NOT_COMPARABLE = "not-comparable"


@dataclass(frozen=True, slots=True, kw_only=True)
class CharacteristicChange:
    """One characteristic before and after (mean over the coupons after), in `unit`."""

    name: str
    label: str
    unit: str
    before: Estimate
    after: Estimate
    change: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ForetoldReading:
    """A predicted reading beside the one that came; `agrees` when the difference is within what was foretold."""

    feature: Feature
    foretold: Estimate
    read: float
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """The comparison. `scatter_deg` is the cut-to-cut standard deviation of the skew, None on one coupon."""

    outcome: Outcome
    skew_before_deg: Estimate
    skew_after_deg: Estimate
    change_deg: Estimate
    scatter_deg: float | None
    characteristics: tuple[CharacteristicChange, ...]
    foretold: tuple[ForetoldReading, ...]
    text: str


def before_after(before: Evaluation, after: Sequence[Evaluation], correction: Correction | None = None) -> BeforeAfter:
    """Compare the coupon before with one or more after it; `correction` is the one made in between, if any."""
    first = before.adjustment.skew_deg
    now, scatter = pooled([evaluation.adjustment.skew_deg for evaluation in after])
    change = Estimate(value=now.value - first.value, u=math.hypot(now.u, first.u))
    outcome = _outcome(before, after, first, now, change, correction)
    foretold = _foretold(after[0], correction)
    return BeforeAfter(
        outcome=outcome,
        skew_before_deg=first,
        skew_after_deg=now,
        change_deg=change,
        scatter_deg=scatter,
        characteristics=_changes(before, after),
        foretold=foretold,
        text=" ".join(_sentences(outcome, first, now, change, scatter, foretold, correction)),
    )


def pooled(coupons: Sequence[Estimate]) -> tuple[Estimate, float | None]:
    """Mean over coupons and the scatter between them (standard deviation beyond the measuring, None for one).

    The variance of the mean is that of the measuring plus that of the scatter, both divided by the number of coupons.
    """
    count = len(coupons)
    mean = sum(coupon.value for coupon in coupons) / count
    measuring = sum(coupon.u**2 for coupon in coupons) / count
    if count == 1:
        return coupons[0], None
    between = max(0.0, float(np.var([coupon.value for coupon in coupons], ddof=1)) - measuring)
    return Estimate(value=mean, u=math.sqrt((measuring + between) / count)), math.sqrt(between)


def _outcome(
    before: Evaluation,
    after: Sequence[Evaluation],
    first: Estimate,
    now: Estimate,
    change: Estimate,
    correction: Correction | None,
) -> Outcome:
    verdict_after = combine(evaluation.verdict for evaluation in after)
    unsure = [e for e in (before, *after) if e.verdict is Verdict.INCONSISTENT or e.sign_open]
    if unsure:
        return Outcome.NOT_COMPARABLE
    changed = abs(change.value) > change.U95
    if correction is not None and changed:
        asked = correction.left_skew_deg - correction.skew_deg.value
        if change.value * asked < 0.0:
            return Outcome.WRONG_WAY
    if verdict_after is Verdict.GO:
        if before.verdict is Verdict.GO:
            return Outcome.STILL_WITHIN
        return Outcome.FIXED_ON_TWO if len(after) > 1 else Outcome.FIXED
    if changed and first.value * now.value < 0.0 and abs(now.value) > now.U95 and abs(first.value) > first.U95:
        return Outcome.TOO_FAR
    less = abs(first.value) - abs(now.value)
    if abs(less) <= change.U95:
        return Outcome.NO_CHANGE
    return Outcome.BETTER if less > 0.0 else Outcome.WORSE


def _changes(before: Evaluation, after: Sequence[Evaluation]) -> tuple[CharacteristicChange, ...]:
    later = [{c.name: c for c in evaluation.characteristics} for evaluation in after]
    return tuple(
        _change(characteristic, [by_name[characteristic.name] for by_name in later])
        for characteristic in before.characteristics
        if all(characteristic.name in by_name for by_name in later)
    )


def _change(before: Characteristic, after: Sequence[Characteristic]) -> CharacteristicChange:
    first = Estimate(value=before.value, u=before.u, nu=before.nu)
    now, _ = pooled([Estimate(value=c.value, u=c.u, nu=c.nu) for c in after])
    return CharacteristicChange(
        name=before.name,
        label=before.label,
        unit=before.unit,
        before=first,
        after=now,
        change=Estimate(value=now.value - first.value, u=math.hypot(now.u, first.u)),
    )


def _foretold(after: Evaluation, correction: Correction | None) -> tuple[ForetoldReading, ...]:
    """The predicted readings beside those of the first coupon after the correction."""
    if correction is None or after.coupon != correction.coupon:
        return ()
    read = {reading.feature: reading.value for reading in after.adjustment.readings}
    return tuple(
        ForetoldReading(
            feature=predicted.feature,
            foretold=predicted.reading,
            read=read[predicted.feature],
            agrees=abs(read[predicted.feature] - predicted.reading.value) <= _FORETOLD_SDS * predicted.reading.u,
        )
        for predicted in correction.predicted
        if predicted.feature in read
    )


def _sentences(
    outcome: Outcome,
    first: Estimate,
    now: Estimate,
    change: Estimate,
    scatter: float | None,
    foretold: Sequence[ForetoldReading],
    correction: Correction | None,
) -> list[str]:
    said = [_WORDS[outcome]]
    if outcome is Outcome.WRONG_WAY:
        said = [_wrong_way(first, now, change, correction)]
    said.append(
        f"Skew before {first.value:+.3f} ± {first.U95:.3f} degrees, after {now.value:+.3f} ± {now.U95:.3f} degrees; "
        f"change {change.value:+.3f} ± {change.U95:.3f} degrees."
    )
    if outcome is Outcome.NOT_COMPARABLE:
        return said[:1]
    if scatter is None:
        said.append("On one coupon: how far one cut differs from the next is not in this until a second is measured.")
    else:
        said.append(f"Cut-to-cut scatter of the skew: {scatter:.3f} degrees.")
    disagree = [reading for reading in foretold if not reading.agrees]
    if disagree:
        worst = max(disagree, key=lambda reading: abs(reading.read - reading.foretold.value) / reading.foretold.u)
        unit = " mm" if worst.feature.is_length else " degrees"
        said.append(
            f"The coupon did not come out as foretold: {worst.feature.label} read {worst.read:.2f}{unit}, foretold "
            f"{worst.foretold.value:.2f} ± {worst.foretold.U95:.2f}{unit}."
        )
    elif foretold:
        said.append("The coupon came out as foretold.")
    return said


def _wrong_way(first: Estimate, now: Estimate, change: Estimate, correction: Correction | None) -> str:
    doubled = abs(now.value - 2.0 * first.value) <= math.hypot(now.U95, 2.0 * first.U95)
    said = "Moved the wrong way: " + (
        "the skew has doubled." if doubled else "the skew has grown instead of shrinking."
    )
    if correction is None:
        return said
    span_mm = correction.span_mm
    moved = span_mm * abs(math.tan(math.radians(change.value)))
    back = span_mm * abs(math.tan(math.radians(now.value)))
    way = correction.direction
    return (
        f"{said} The {correction.end} end went about {moved:.2f} mm {way.opposite.words}, it should have gone "
        f"{way.words}: move it {back:.2f} mm {way.words} from where it is now."
    )


_WORDS = {
    Outcome.FIXED: "Fixed, on one coupon: it is within its limits.",
    Outcome.FIXED_ON_TWO: "Fixed, on more than one coupon: all are within their limits.",
    Outcome.STILL_WITHIN: "Within its limits before and after.",
    Outcome.BETTER: "Better, but not within limits.",
    Outcome.NO_CHANGE: "No change is proven.",
    Outcome.WORSE: "Worse than before.",
    Outcome.WRONG_WAY: "",
    Outcome.TOO_FAR: "Moved too far: the skew has changed its sign, as if both ends had been moved, or one twice "
    "as far.",
    Outcome.NOT_COMPARABLE: "These cannot be compared: the readings of one contradict each other or leave the sign "
    "of the skew open.",
}

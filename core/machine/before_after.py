"""Before and after: two sessions of one machine side by side, and the one word for what became of it.

Stage: proof. Input: the evaluation before, those after (one coupon or more), and the correction made between them.
Output: the change with its uncertainty, the outcome, the prediction held against the re-cut. Uncertainties of the two
sessions are taken as independent; what an instrument does alike in both is thus counted twice, which is safe.
Skews are the machine's: each coupon's, turned as its mark lay on the bed. A design turned by a quarter between the cuts
turns with it whatever corners burn by, so that two coupons without seats tell skew from burning.
"""

import math
from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import Feature
from core.machine.gantry_correction import Correction
from core.machine.move_order import MoveOrder
from core.metrology import (
    Characteristic,
    CharacteristicGroup,
    Estimate,
    Evaluation,
    MarkSeen,
    Verdict,
    combine,
    turned_by,
)
from core.numeric import np
from core.said import NOTHING, Angle, Length, Part, Said, Series, paragraph, said

# Ten comparisons at 95 % together: each at 99.5 % (two-sided normal).
_FORETOLD_SDS = 2.80


class Outcome(StrEnum):
    """What became of the machine."""

    FIXED = "fixed"
    FIXED_ON_TWO = "fixed-on-two"
    STILL_WITHIN = "still-within"
    WITHIN_NOW = "within-now"
    NOT_SETTLED = "not-settled"
    BETTER = "better"
    NO_CHANGE = "no-change"
    WORSE = "worse"
    WRONG_WAY = "wrong-way"
    TOO_FAR = "too-far"
    NOT_COMPARABLE = "not-comparable"


class CharacteristicChange(Struct, frozen=True, kw_only=True):
    """One characteristic before and after (mean over the coupons after), in `unit`."""

    name: str
    label: Said
    unit: str
    before: Estimate
    after: Estimate
    change: Estimate


class ForetoldReading(Struct, frozen=True, kw_only=True):
    """A predicted reading beside the one that came; `agrees` when the difference is within what was foretold."""

    feature: Feature
    foretold: Estimate
    read: float
    agrees: bool


class BeforeAfter(Struct, frozen=True, kw_only=True):
    """The comparison. `scatter_deg` is the cut-to-cut standard deviation of the skew, None on one coupon."""

    outcome: Outcome
    skew_before_deg: Estimate
    skew_after_deg: Estimate
    change_deg: Estimate
    scatter_deg: float | None
    characteristics: tuple[CharacteristicChange, ...]
    foretold: tuple[ForetoldReading, ...]
    text: Series


def before_after(
    before: Evaluation,
    after: Sequence[Evaluation],
    correction: Correction | None = None,
    marks: Sequence[MarkSeen | None] = (),
) -> BeforeAfter:
    """Compare the coupon before with one or more after it; `correction` is the one made in between, if any.

    `marks` are the corners that carried the mark on the bed, before and then after; empty where nobody was asked.
    """
    turns = [turned_by(mark) for mark in marks] or [1.0] * (1 + len(after))
    first, *later = (
        _turned(evaluation.skew_by.unaveraged, turn) for evaluation, turn in zip((before, *after), turns, strict=True)
    )
    now, scatter = pooled(later)
    alike = len(set(turns)) == 1  # in one and the same coupon's terms edges and readings can be held against each other
    change = Estimate(value=now.value - first.value, u=math.hypot(now.u, first.u))
    outcome = _outcome(before, after, first, now, change, correction)
    foretold = _foretold(after[0], correction) if alike else ()
    return BeforeAfter(
        outcome=outcome,
        skew_before_deg=first,
        skew_after_deg=now,
        change_deg=change,
        scatter_deg=scatter,
        characteristics=_changes(before, after) if alike else (),
        foretold=foretold,
        text=paragraph(
            *_sentences(outcome, first, now, change, scatter, foretold, correction),
            _burning(first, now) if correction is None and not alike and _corner_to_corner(before, *after) else NOTHING,
        ),
    )


def _turned(skew: Estimate, turn: float) -> Estimate:
    return replace(skew, value=turn * skew.value)


def _corner_to_corner(*evaluations: Evaluation) -> bool:
    """Whether all were read from corner to corner, where burning can feign a skew, and contradict nothing."""
    return all(
        evaluation.coupon.seats is None and evaluation.adjustment.consistent and not evaluation.sign_open
        for evaluation in evaluations
    )


def _burning(first: Estimate, now: Estimate) -> Said:
    """What two coupons of one design, turned by a quarter between the cuts, tell apart: half their sum is the machine's
    skew, half their difference is what corners burnt unequally feigned, for that turned with the design."""
    u, nu = math.hypot(first.u, now.u) / 2.0, min(first.nu, now.nu)
    return said(
        "The design was turned by a quarter between the two: the machine's skew is {skew}, unequally burnt corners "
        "feign {burnt}.",
        skew=_deg(Estimate(value=(first.value + now.value) / 2.0, u=u, nu=nu)),
        burnt=_deg(Estimate(value=(first.value - now.value) / 2.0, u=u, nu=nu)),
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
    unsure = [e for e in (before, *after) if e.told_skew_deg is None or e.sign_open]
    if unsure:
        return Outcome.NOT_COMPARABLE
    changed = abs(change.value) > change.U95
    if correction is not None and changed:
        asked = correction.left_skew_deg - correction.skew_deg.value
        if change.value * asked < 0.0:
            return Outcome.WRONG_WAY
    if verdict_after is Verdict.GO:
        return _within(before, after, changed=changed)
    if changed and first.value * now.value < 0.0 and abs(now.value) > now.U95 and abs(first.value) > first.U95:
        return Outcome.TOO_FAR
    less = abs(first.value) - abs(now.value)
    if abs(less) <= change.U95:
        return Outcome.NO_CHANGE
    return Outcome.BETTER if less > 0.0 else Outcome.WORSE


def _within(before: Evaluation, after: Sequence[Evaluation], *, changed: bool) -> Outcome:
    """What became of a machine whose coupons are GO now. A repair is proven by a word that no slip would turn, of a
    machine that was outside its limits or has changed since."""
    if not all(evaluation.group(CharacteristicGroup.SQUARENESS).settled for evaluation in after):
        return Outcome.NOT_SETTLED
    if before.verdict is Verdict.GO:
        return Outcome.STILL_WITHIN
    if not (changed or (before.verdict is Verdict.NO_GO and before.settled)):
        return Outcome.WITHIN_NOW
    return Outcome.FIXED_ON_TWO if len(after) > 1 else Outcome.FIXED


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
) -> tuple[Part, ...]:
    if outcome is Outcome.NOT_COMPARABLE:
        return (_WORDS[outcome],)
    wrong = _wrong_way(first, now, change, correction) if outcome is Outcome.WRONG_WAY else ()
    return (
        *(wrong or (_WORDS[outcome],)),
        said(
            "Skew before {before}, after {after}; change {change}.",
            before=_deg(first),
            after=_deg(now),
            change=_deg(change),
        ),
        _scatter_sentence(scatter),
        _foretold_sentence(foretold),
    )


def _deg(skew: Estimate) -> Angle:
    return Angle(skew.value, 3, u_deg=skew.U95, signed=True)


def _scatter_sentence(scatter: float | None) -> Said:
    if scatter is None:
        return said("On one coupon: how far one cut differs from the next is not in this until a second is measured.")
    return said("Cut-to-cut scatter of the skew: {scatter}.", scatter=Angle(scatter, 3))


def _foretold_sentence(foretold: Sequence[ForetoldReading]) -> Said:
    disagree = [reading for reading in foretold if not reading.agrees]
    if not disagree:
        return said("The coupon came out as foretold.") if foretold else NOTHING
    worst = max(disagree, key=lambda reading: abs(reading.read - reading.foretold.value) / reading.foretold.u)
    read: Part = Length(worst.read)
    expected: Part = Length(worst.foretold.value, u_mm=worst.foretold.U95)
    if not worst.feature.is_length:
        read, expected = Angle(worst.read), Angle(worst.foretold.value, u_deg=worst.foretold.U95)
    return said(
        "The coupon did not come out as foretold: {feature} read {read}, foretold {expected}.",
        feature=worst.feature.label,
        read=read,
        expected=expected,
    )


def _wrong_way(first: Estimate, now: Estimate, change: Estimate, correction: Correction | None) -> tuple[Part, ...]:
    doubled = abs(now.value - 2.0 * first.value) <= math.hypot(now.U95, 2.0 * first.U95)
    if doubled:
        told = said("Moved the wrong way: the skew has doubled.")
    else:
        told = said("Moved the wrong way: the skew has grown instead of shrinking.")
    if correction is None:
        return (told,)
    moved_mm, back_mm = (correction.span_mm * abs(math.tan(math.radians(skew.value))) for skew in (change, now))
    # From where it stands now: the same end, the way it should have gone.
    order = MoveOrder(end=correction.end, direction=correction.direction, move=Length(back_mm), part=correction.part)
    went = said("The {end} end went about {moved} the other way.", end=correction.end.word, moved=Length(moved_mm))
    return (told, went, order.told)


_WORDS = {
    Outcome.FIXED: said("Fixed, on one coupon: it is within its limits."),
    Outcome.FIXED_ON_TWO: said("Fixed, on more than one coupon: all are within their limits."),
    Outcome.STILL_WITHIN: said("Within its limits before and after."),
    Outcome.WITHIN_NOW: said("Within its limits now; that it was not before is not proven."),
    Outcome.NOT_SETTLED: said("Within its limits as far as it was read: not settled, a slip could pass unseen."),
    Outcome.BETTER: said("Better, but not within limits."),
    Outcome.NO_CHANGE: said("No change is proven."),
    Outcome.WORSE: said("Worse than before."),
    Outcome.TOO_FAR: said(
        "Moved too far: the skew has changed its sign, as if both ends had been moved, or one twice as far."
    ),
    Outcome.NOT_COMPARABLE: said(
        "These cannot be compared: the readings of one contradict each other or leave the sign of the skew open."
    ),
}

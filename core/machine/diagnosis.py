"""Diagnosis: which faults the evidence supports, what each usually comes from, and what it cannot tell.

Stage: correction. Input: an evaluation, the profile, the measuring setup. Output: findings in words with significance.
A fault is proven when its amount exceeds its expanded uncertainty (95 %); it is open while that uncertainty is wider
than its limit.
"""

import math

from msgspec import Struct

from core.geometry import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature, skew_deg
from core.machine.coupon_choice import SpanAnswer, span_answer
from core.machine.directions import Axis
from core.machine.faults import Fault, Finding, Standing, size_findings, skew_causes, taper_causes
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology import (
    Adjustment,
    CharacteristicGroup,
    Estimate,
    Evaluation,
    MeasuringSetup,
    SizeCause,
    SizeFinding,
    Verdict,
    predicted_readings,
    skew_sentence,
)
from core.numeric import FloatArray, np
from core.said import Angle, Length, Part, Said, paragraph, said

# By how much opposite edges may differ where the limits say nothing of edges (common practice for a cut coupon).
TAPER_LIMIT_MM = 0.3


class Diagnosis(Struct, frozen=True, kw_only=True):
    """All findings, proven ones first, what cannot be told, and whether the span is settled."""

    findings: tuple[Finding, ...]
    cannot_tell: tuple[Said, ...]
    span: SpanAnswer | None

    @property
    def proven(self) -> tuple[Fault, ...]:
        """The faults the evidence supports, most significant first."""
        return tuple(finding.fault for finding in self.findings if finding.standing is Standing.PROVEN)

    @property
    def sentences(self) -> tuple[Part, ...]:
        """Everything in order: what is proven and why, what is open, what cannot be told, the span."""
        told: list[Part] = []
        for finding in self.findings:
            if finding.standing is not Standing.NOT_PROVEN:
                told.append(finding.text)
                told += [said("Usually: {cause}", cause=cause) for cause in finding.causes[:1]]
                told += [said("Or: {cause}", cause=cause) for cause in finding.causes[1:]]
        told = list(dict.fromkeys(told)) or [said("No fault is proven on this coupon.")]
        return (*told, *self.cannot_tell, *((self.span.text,) if self.span else ()))


def diagnose(evaluation: Evaluation, profile: MachineProfile | None, setup: MeasuringSetup) -> Diagnosis:
    """Findings on an evaluated coupon; an inconsistent one supports none."""
    if evaluation.verdict is Verdict.INCONSISTENT:
        text = said("The readings contradict each other: nothing can be said of the machine until that is settled.")
        return Diagnosis(findings=(), cannot_tell=(text,), span=None)
    skew = evaluation.told_skew_deg
    findings = [
        _skew_finding(evaluation, profile, setup),
        _taper_finding(evaluation, Axis.X, profile, setup),
        _taper_finding(evaluation, Axis.Y, profile, setup),
    ]
    sizes = evaluation.size_finding
    if sizes is not None:
        findings += size_findings(sizes)
    order = {Standing.PROVEN: 0, Standing.OPEN: 1, Standing.NOT_PROVEN: 2}
    findings.sort(key=lambda finding: (order[finding.standing], -finding.sds))
    return Diagnosis(
        findings=tuple(findings),
        cannot_tell=_cannot_tell(evaluation, sizes),
        span=span_answer(skew, profile, setup) if profile and skew else None,
    )


def reading_that_would_tell(adjustment: Adjustment, setup: MeasuringSetup, gradient: FloatArray) -> Feature | None:
    """The feature not read yet that most reduces the uncertainty of a quantity with this gradient (k,); None if none.

    One more reading takes `(g C j)² / (sd² + j C j)` off the variance (sequential least squares).
    """
    C = adjustment.covariance
    _, jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup)
    read = {reading.feature for reading in adjustment.readings}
    padded = np.zeros(len(C))
    padded[: len(gradient)] = gradient
    gains = {}
    for row, feature in enumerate(TEN_FEATURES):
        if feature not in read:
            variance = setup.instrument(feature).mean_variance(1, setup.form.of(feature.kind, adjustment.coupon))
            j = jacobian[row]
            gains[feature] = float(padded @ C @ j) ** 2 / (variance + float(j @ C @ j))
    return max(gains, key=lambda feature: gains[feature]) if gains else None


def _standing(amount: Estimate, limit: float) -> Standing:
    if abs(amount.value) > amount.U95:
        return Standing.PROVEN
    return Standing.OPEN if limit < amount.U95 else Standing.NOT_PROVEN


def _skew_finding(evaluation: Evaluation, profile: MachineProfile | None, setup: MeasuringSetup) -> Finding:
    adjustment, limits = evaluation.adjustment, evaluation.limits
    skew = adjustment.skew_deg
    side_mm = evaluation.coupon.shorter_side_mm
    allowed = [
        math.degrees(math.asin(min(1.0, limits.perpendicularity_mm / side_mm))) if limits.perpendicularity_mm else None,
        limits.corner_deg,
    ]
    if evaluation.told_skew_deg is None:
        return Finding(
            fault=Fault.SKEW,
            standing=Standing.OPEN,
            amount=evaluation.skew_by.unaveraged,
            unit="deg",
            text=skew_sentence(evaluation),
            causes=(),
        )
    standing = _standing(skew, min([limit for limit in allowed if limit is not None], default=0.3))
    would = reading_that_would_tell(adjustment, setup, skew_deg(adjustment.parameters)[1])
    text: Part
    match standing:
        case Standing.PROVEN:
            text = skew_sentence(evaluation)
        case Standing.NOT_PROVEN:
            text = said("No skew is proven: {amount}.", amount=Angle(skew.value, 3, u_deg=skew.U95, signed=True))
        case Standing.OPEN:
            text = paragraph(said("Skew is open, ± {u}.", u=Angle(skew.U95)), _read_next(would))
    causes = skew_causes(profile is not None and profile.held is HowHeld.RAILS)
    return Finding(
        fault=Fault.SKEW,
        standing=standing,
        amount=skew,
        unit="deg",
        text=text,
        causes=causes if standing is Standing.PROVEN else (),
    )


def _taper_finding(
    evaluation: Evaluation, axis: Axis, profile: MachineProfile | None, setup: MeasuringSetup
) -> Finding:
    adjustment, limits, coupon = evaluation.adjustment, evaluation.limits, evaluation.coupon
    along_x = axis is Axis.X
    size_mm = coupon.width_mm if along_x else coupon.height_mm
    raw = adjustment.taper_x if along_x else adjustment.taper_y
    taper = Estimate(value=2.0 * size_mm * raw.value, u=2.0 * size_mm * raw.u)
    limit = (limits.width_edge_mm if along_x else limits.height_edge_mm) or TAPER_LIMIT_MM
    standing = _standing(taper, limit)
    gradient = np.zeros(5)
    gradient[3 if along_x else 4] = 1.0
    would = reading_that_would_tell(adjustment, setup, gradient)
    text = _taper_text(along_x, taper, standing, would)
    gantry_axis = profile.gantry_axis if profile else Axis.X
    return Finding(
        fault=Fault.X_TAPER if along_x else Fault.Y_TAPER,
        standing=standing,
        amount=taper,
        unit="mm",
        text=text,
        causes=taper_causes(axis is not gantry_axis) if standing is Standing.PROVEN else (),
    )


def _taper_text(along_x: bool, taper: Estimate, standing: Standing, would: Feature | None) -> Part:
    amount = Length(abs(taper.value), u_mm=taper.U95)
    match standing, along_x, taper.value < 0.0:
        case Standing.PROVEN, True, False:
            return said("Opposite edges unequal: the far edge is longer than the near one by {amount}.", amount=amount)
        case Standing.PROVEN, True, True:
            return said("Opposite edges unequal: the near edge is longer than the far one by {amount}.", amount=amount)
        case Standing.PROVEN, False, False:
            return said(
                "Opposite edges unequal: the right edge is longer than the left one by {amount}.", amount=amount
            )
        case Standing.PROVEN, False, True:
            return said(
                "Opposite edges unequal: the left edge is longer than the right one by {amount}.", amount=amount
            )
        case Standing.NOT_PROVEN, True, _:
            return said("Near and far edge are not proven unequal: {amount}.", amount=amount)
        case Standing.NOT_PROVEN, False, _:
            return said("Left and right edge are not proven unequal: {amount}.", amount=amount)
        case _, True, _:
            still_open = said("Whether near and far edge are equal is open, ± {u}.", u=Length(taper.U95))
        case _:
            still_open = said("Whether left and right edge are equal is open, ± {u}.", u=Length(taper.U95))
    return paragraph(still_open, _read_next(would))


def _cannot_tell(evaluation: Evaluation, sizes: SizeFinding | None) -> tuple[Said, ...]:
    read = {reading.feature for reading in evaluation.adjustment.readings}
    told = []
    if sizes is None:
        missing = next((f for f in EDGES if f not in read), None)
        if missing:
            told.append(said("Of the sizes nothing can be said yet: read the {edge}.", edge=missing.label))
    elif sizes.cause in (SizeCause.KERF, SizeCause.SCALE) and (sizes.ambiguous or sizes.cause is SizeCause.SCALE):
        told.append(said("Kerf and scale cannot be told apart without an inner window: cut a coupon with one."))
    if not evaluation.group(CharacteristicGroup.SQUARENESS).settled:
        if any(f not in read for f in DIAGONALS):
            told.append(said("A misread diagonal would pass unseen: read both diagonals."))
        elif any(f not in read for f in CORNERS):
            told.append(said("A misread diagonal would pass unseen: read the corners."))
        else:
            told.append(said("A misread diagonal would pass unseen: read both diagonals once more."))
    if evaluation.sign_open:
        told.append(
            said("Which way it leans cannot be told: look at the orientation mark and read both diagonals again.")
        )
    if evaluation.coupon.width_mm == evaluation.coupon.height_mm:
        told.append(said("A square coupon turned by a quarter reads the opposite skew: only the mark tells."))
    told.append(
        said("How far one cut differs from the next, and one place of the bed from another, takes a second coupon.")
    )
    return tuple(told)


def _read_next(feature: Feature | None) -> Said:
    if feature is None:
        return said("A larger coupon or a second one would tell.")
    return said("The {feature} would tell most.", feature=feature.label)

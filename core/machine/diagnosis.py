"""Diagnosis: which faults the evidence supports, what each usually comes from, and what it cannot tell.

Stage: correction. Input: an evaluation, the profile, the measuring setup. Output: findings in words with significance.
A fault is proven when its amount exceeds its expanded uncertainty (95 %); it is open while that uncertainty is wider
than its limit. Causes are common practice of machine fitters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import skew_deg
from core.machine.coupon_choice import SpanAnswer, span_answer
from core.machine.directions import Axis
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, Estimate
from core.metrology.evaluation import Evaluation
from core.metrology.kerf import SizeCause, SizeFinding
from core.metrology.measuring_model import predicted_readings
from core.metrology.verdict import Verdict

FloatArray = NDArray[np.float64]

# What a taper may be where the limits say nothing of edges (common practice for a cut coupon).
TAPER_LIMIT_MM = 0.3


class Fault(StrEnum):
    """What can be wrong with a machine, as one coupon shows it."""

    SKEW = "skew"
    KERF = "kerf"
    SCALE = "scale"
    UNEQUAL_SCALE = "unequal-scale"
    X_TAPER = "x-taper"
    Y_TAPER = "y-taper"


class Standing(StrEnum):
    """What the evidence says of a fault."""

    PROVEN = "proven"
    NOT_PROVEN = "not-proven"
    OPEN = "open"  # the readings so far could hide one larger than its limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault. `amount` is in `unit` (skew in degrees, the others in mm or, for scales, as a share).

    `sds` is the amount in standard uncertainties. `causes` are what it usually comes from, the first suspect first;
    `would_tell` the next reading or coupon that would settle an open one (None where all is read).
    """

    fault: Fault
    standing: Standing
    amount: Estimate
    unit: str
    text: str
    causes: tuple[str, ...] = ()
    would_tell: Feature | None = None

    @property
    def sds(self) -> float:
        """Significance: the amount in standard uncertainties."""
        return abs(self.amount.value) / self.amount.u if self.amount.u else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """All findings, proven ones first, what cannot be told, and whether the span is settled."""

    findings: tuple[Finding, ...]
    cannot_tell: tuple[str, ...]
    span: SpanAnswer | None

    @property
    def proven(self) -> tuple[Fault, ...]:
        """The faults the evidence supports, most significant first."""
        return tuple(finding.fault for finding in self.findings if finding.standing is Standing.PROVEN)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Everything in order: what is proven and why, what is open, what cannot be told, the span."""
        said = []
        for finding in self.findings:
            if finding.standing is not Standing.NOT_PROVEN:
                said.append(finding.text)
                said += [f"Usually: {cause}" for cause in finding.causes[:1]]
                said += [f"Or: {cause}" for cause in finding.causes[1:]]
        said = list(dict.fromkeys(said)) or ["No fault is proven on this coupon."]
        return (*said, *self.cannot_tell, *((self.span.text,) if self.span else ()))


def diagnose(evaluation: Evaluation, profile: MachineProfile | None, setup: MeasuringSetup) -> Diagnosis:
    """Findings on an evaluated coupon; an inconsistent one supports none."""
    if evaluation.verdict is Verdict.INCONSISTENT:
        text = "The readings contradict each other: nothing can be said of the machine until that is settled."
        return Diagnosis(findings=(), cannot_tell=(text,), span=None)
    adjustment = evaluation.adjustment
    findings = [
        _skew_finding(evaluation, profile, setup),
        _taper_finding(evaluation, Axis.X, profile, setup),
        _taper_finding(evaluation, Axis.Y, profile, setup),
    ]
    sizes = evaluation.size_finding
    if sizes is not None:
        findings += _size_findings(sizes)
    order = {Standing.PROVEN: 0, Standing.OPEN: 1, Standing.NOT_PROVEN: 2}
    findings.sort(key=lambda finding: (order[finding.standing], -finding.sds))
    return Diagnosis(
        findings=tuple(findings),
        cannot_tell=_cannot_tell(evaluation, sizes),
        span=span_answer(adjustment.skew_deg, profile, setup) if profile else None,
    )


def reading_that_would_tell(adjustment: Adjustment, setup: MeasuringSetup, gradient: FloatArray) -> Feature | None:
    """The feature not read yet that most reduces the uncertainty of a quantity with this gradient (k,); None if none.

    One more reading takes `(g C j)² / (sd² + j C j)` off the variance (sequential least squares).
    """
    C = adjustment.covariance
    _, jacobian = predicted_readings(adjustment.coupon, adjustment.parameters, setup.edge_method)
    read = {reading.feature for reading in adjustment.readings}
    padded = np.zeros(len(C))
    padded[: len(gradient)] = gradient
    gains = {}
    for row, feature in enumerate(TEN_FEATURES):
        if feature not in read:
            variance = setup.instrument(feature).mean_variance(1, setup.form.of(feature.kind))
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
    standing = _standing(skew, min([limit for limit in allowed if limit is not None], default=0.3))
    would = reading_that_would_tell(adjustment, setup, skew_deg(adjustment.parameters)[1])
    longer = "NL-FR" if skew.value > 0.0 else "NR-FL"
    text = {
        Standing.PROVEN: f"Skew {skew.value:+.3f} ± {skew.U95:.3f} degrees: diagonal {longer} is the longer.",
        Standing.NOT_PROVEN: f"No skew is proven: {skew.value:+.3f} ± {skew.U95:.3f} degrees.",
        Standing.OPEN: f"Skew is open, ± {skew.U95:.2f} degrees.{_read_next(would)}",
    }[standing]
    rails = profile is not None and profile.held is HowHeld.RAILS
    causes = (
        "the rails are not square to the gantry: knocked, or never set."
        if rails
        else "the gantry is racked, one end ahead of the other: a coupling slipped, a belt jumped a tooth, a crash.",
        "the stops or home switches that square it at power-up stand unequal.",
    )
    return Finding(
        fault=Fault.SKEW,
        standing=standing,
        amount=skew,
        unit="deg",
        text=text,
        causes=causes if standing is Standing.PROVEN else (),
        would_tell=would if standing is Standing.OPEN else None,
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
    longer, shorter = ("far", "near") if along_x else ("right", "left")
    if taper.value < 0.0:
        longer, shorter = shorter, longer
    amount = f"{abs(taper.value):.2f} ± {taper.U95:.2f} mm"
    name = "X taper" if along_x else "Y taper"
    text = {
        Standing.PROVEN: f"{name}: the {longer} edge is longer than the {shorter} one by {amount}.",
        Standing.NOT_PROVEN: f"No {name} is proven: {amount}.",
        Standing.OPEN: f"{name} is open, ± {taper.U95:.2f} mm.{_read_next(would)}",
    }[standing]
    gantry_axis = profile.gantry_axis if profile else Axis.X
    return Finding(
        fault=Fault.X_TAPER if along_x else Fault.Y_TAPER,
        standing=standing,
        amount=taper,
        unit="mm",
        text=text,
        causes=_taper_causes(axis is not gantry_axis) if standing is Standing.PROVEN else (),
        would_tell=would if standing is Standing.OPEN else None,
    )


def _taper_causes(along_travel: bool) -> tuple[str, ...]:
    """Edges along the travel differ when the gantry turns while it travels; edges along the gantry hardly ever do."""
    if along_travel:
        return (
            "the gantry turns as it travels: the two sides are driven unequally (steps per mm, belt stretch, pulley).",
            "the rails are not parallel or not straight.",
        )
    return (
        "seldom geometry: the coupon moved while it was cut, lost steps, or a lead-in scar where the jaws sat. Cut a "
        "second coupon before touching anything.",
    )


def _size_findings(sizes: SizeFinding) -> list[Finding]:
    """What the sizes point to, as findings; the sentence is that of the size finding."""
    found = []
    if sizes.cause is SizeCause.KERF and sizes.kerf_mm:
        found.append(_size(Fault.KERF, sizes.kerf_mm, "mm", sizes.text))
    elif sizes.cause is SizeCause.SCALE and sizes.scale_x:
        found.append(_size(Fault.SCALE, sizes.scale_x, "share", sizes.text))
    elif sizes.scale_x and sizes.scale_y:
        difference = Estimate(
            value=sizes.scale_x.value - sizes.scale_y.value, u=math.hypot(sizes.scale_x.u, sizes.scale_y.u)
        )
        unequal = abs(difference.value) > difference.U95
        if sizes.cause is SizeCause.UNEQUAL or unequal:
            found.append(_size(Fault.UNEQUAL_SCALE, difference, "share", sizes.text))
        else:
            found.append(_size(Fault.SCALE, sizes.scale_x, "share", sizes.text))
        if sizes.kerf_mm:
            found.append(_size(Fault.KERF, sizes.kerf_mm, "mm", sizes.text))
    return found


def _size(fault: Fault, amount: Estimate, unit: str, text: str) -> Finding:
    proven = abs(amount.value) > amount.U95
    return Finding(
        fault=fault,
        standing=Standing.PROVEN if proven else Standing.NOT_PROVEN,
        amount=amount,
        unit=unit,
        text=text,
        causes=_SIZE_CAUSES[fault] if proven else (),
    )


def _cannot_tell(evaluation: Evaluation, sizes: SizeFinding | None) -> tuple[str, ...]:
    read = {reading.feature for reading in evaluation.adjustment.readings}
    said = []
    if sizes is None:
        missing = next((f for f in EDGES if f not in read), None)
        said.append(f"Of the sizes nothing can be said yet: read the {missing.label}." if missing else "")
    elif sizes.cause in (SizeCause.KERF, SizeCause.SCALE) and (sizes.ambiguous or sizes.cause is SizeCause.SCALE):
        said.append("Kerf and scale cannot be told apart without an inner window: cut a coupon with one.")
    if not evaluation.cross_checked:
        again = "the corners" if any(f not in read for f in CORNERS) else "both diagonals once more"
        missing_diagonal = any(f not in read for f in DIAGONALS)
        said.append(f"A misread diagonal would pass unseen: read {'both diagonals' if missing_diagonal else again}.")
    if evaluation.sign_open:
        said.append("Which way it leans cannot be told: look at the orientation mark and read both diagonals again.")
    if evaluation.coupon.width_mm == evaluation.coupon.height_mm:
        said.append("A square coupon turned by a quarter reads the opposite skew: only the mark tells.")
    said.append("How far one cut differs from the next, and one place of the bed from another, takes a second coupon.")
    return tuple(sentence for sentence in said if sentence)


def _read_next(feature: Feature | None) -> str:
    return f" The {feature.label} would tell most." if feature else " A larger coupon or a second one would tell."


_SIZE_CAUSES: dict[Fault, tuple[str, ...]] = {
    Fault.KERF: (
        "the width of the cut is not, or wrongly, allowed for in the file or the controller.",
        "the tool is worn or not the size it is said to be; the beam is out of focus.",
    ),
    Fault.SCALE: ("steps per mm of both axes, or heat or moisture in the sheet between cutting and measuring.",),
    Fault.UNEQUAL_SCALE: (
        "steps per mm of one axis.",
        "belt stretch, or a slack belt, on one axis.",
    ),
}

"""The result of an evaluation as JSON, for other programs: documented by schema/evaluation.schema.json.

Stage: a way out beside screens and reports. In: an Evaluation, and the correction where a gantry span is known. Out: a
tree of plain values, numbers in mm and decimal degrees; U95 is the expanded uncertainty (95 %), u the standard one.
"""

import json
import math

from core import SOFTWARE
from core.geometry import Coupon
from core.machine import Correction, Refusal
from core.metrology import (
    AdjustedReading,
    Adjustment,
    Characteristic,
    CharacteristicGroup,
    Estimate,
    Evaluation,
    ExpansionDifference,
    Quantity,
    SizeFinding,
)

SCHEMA_VERSION = 2

JsonObject = dict[str, object]


def result_text(evaluation: Evaluation, correction: Correction | Refusal | None, *, simulated: bool = False) -> str:
    """The result as JSON text; a number that is not finite would be our own mistake and raises ValueError."""
    return json.dumps(result(evaluation, correction, simulated=simulated), indent=2, allow_nan=False)


def result(evaluation: Evaluation, correction: Correction | Refusal | None, *, simulated: bool = False) -> JsonObject:
    """The result as plain values. `correction` is None where no gantry span is known."""
    adjustment = evaluation.adjustment
    request = evaluation.next_reading
    by, sizes = evaluation.skew_by, evaluation.size_finding
    return {
        "schema_version": SCHEMA_VERSION,
        "verdict": evaluation.verdict.value,
        "verdict_of": evaluation.verdict_of.value,
        "groups": {
            group.group.value: {"verdict": group.verdict.value, "settled": group.settled, "asked": group.asked}
            for group in evaluation.groups
        },
        "size_verdict": evaluation.size_verdict.value,
        "cross_checked": evaluation.cross_checked,
        "settled": evaluation.settled,
        "too_close": evaluation.too_close,
        "sign_open": evaluation.sign_open,
        "coupon": {
            "width_mm": evaluation.coupon.width_mm,
            "height_mm": evaluation.coupon.height_mm,
            "seats_mm": _seats(evaluation.coupon),
        },
        "limits": evaluation.limits.source,
        "scope": evaluation.scope.value,
        "expansion": _expansion(evaluation.expansion) if evaluation.expansion else None,
        "characteristics": [_characteristic(characteristic) for characteristic in evaluation.characteristics],
        "shape": {
            "skew_deg": _estimate(told) if (told := evaluation.told_skew_deg) else None,
            "scale_x": _estimate(adjustment.scale_x),
            "scale_y": _estimate(adjustment.scale_y),
            "taper_x": _estimate(adjustment.taper_x),
            "taper_y": _estimate(adjustment.taper_y),
        },
        "skew_by": {
            "lengths": _estimate(by.lengths) if by.lengths else None,
            "corners": _estimate(by.corners) if by.corners else None,
            "best_fit": _estimate(by.best_fit),
            "disagree": by.disagree,
        },
        "hand": _hands(adjustment),
        "size_finding": _size_finding(sizes) if sizes else None,
        "instruments": {
            "caliper_zero_mm": _estimate(adjustment.caliper_zero_mm),
            "corner_loss_mm": _estimate(adjustment.corner_loss_mm),
            "gauge_zero_deg": _estimate(adjustment.gauge_zero_deg),
        },
        "fit": {
            "chi_square": adjustment.chi_square,
            "nu": adjustment.nu,
            "consistent": adjustment.consistent,
            "readings": [_reading(reading) for reading in adjustment.readings],
        },
        "explanations": [
            {
                "kind": explanation.kind.value,
                "feature": explanation.features[0].value if explanation.features else None,
                "features": [feature.value for feature in explanation.features],
                "expected": explanation.expected,
                "text": str(explanation.text),
            }
            for explanation in evaluation.explanations
        ],
        "correction": _correction(correction) if isinstance(correction, Correction) else None,
        "no_correction": _refusal(correction) if isinstance(correction, Refusal) else None,
        "next_reading": {"feature": request.feature.value, "reason": request.reason.value} if request else None,
        "simulated": simulated,
        "software": SOFTWARE,
    }


def _seats(coupon: Coupon) -> list[float] | None:
    return None if coupon.seats is None else [coupon.seats.nl_fr_mm, coupon.seats.nr_fl_mm]


def _hands(adjustment: Adjustment) -> JsonObject:
    """Repeatability as set and as learned, of caliper and gauge; of several hands the one that read most."""
    told: JsonObject = {"caliper": None, "gauge": None}
    counts = [
        sum(r.count for f in adjustment.learned.features for r in f.repeats if r.hand == place)
        for place in range(len(adjustment.learned.hands))
    ]
    for _, place in sorted(zip(counts, range(len(counts)), strict=True)):
        hand = adjustment.learned.hands[place]
        told["caliper" if hand.key.quantity is Quantity.LENGTH else "gauge"] = {
            "set": math.sqrt(hand.set_variance),
            "learned": math.sqrt(hand.variance),
            "nu": hand.nu,
        }
    return told


def _estimate(estimate: Estimate) -> JsonObject:
    return {"value": estimate.value, "U95": estimate.U95}


def _size_finding(finding: SizeFinding) -> JsonObject:
    return {
        "cause": finding.cause.value,
        "kerf_mm": _estimate(finding.kerf_mm) if finding.kerf_mm else None,
        "scale_x": _estimate(finding.scale_x) if finding.scale_x else None,
        "scale_y": _estimate(finding.scale_y) if finding.scale_y else None,
        "ambiguous": finding.ambiguous,
        "contradictory": finding.contradictory,
        "text": str(finding.text),
    }


def _expansion(expansion: ExpansionDifference) -> JsonObject:
    return {"material": expansion.material, "temperature_c": expansion.temperature_c}


def _characteristic(characteristic: Characteristic) -> JsonObject:
    judged = characteristic.group is not CharacteristicGroup.INFORMATION
    return {
        "name": characteristic.name,
        "group": characteristic.group.value,
        "value": characteristic.value,
        "u": characteristic.u,
        "U95": characteristic.U95,
        "lower": characteristic.lower,
        "upper": characteristic.upper,
        "unit": characteristic.unit,
        "verdict": characteristic.verdict.value if judged else None,
        "conformance_probability": characteristic.conformance_probability,
    }


def _reading(reading: AdjustedReading) -> JsonObject:
    return {
        "feature": reading.feature.value,
        "value": reading.value,
        "n": reading.count,
        "residual": reading.residual,
        "standardised_residual": reading.standardised_residual,
        "redundancy": reading.redundancy,
        "smallest_detectable": reading.smallest_detectable,
    }


def _correction(correction: Correction) -> JsonObject:
    return {
        "span_mm": correction.span_mm,
        "move_mm": correction.move_mm.value,
        "U95_mm": correction.move_mm.U95,
        "end": correction.end.value,
        "direction": correction.direction.value,
        "witness": correction.witness.value if correction.witness else None,
        "share": correction.share,
        "text": str(correction.text),
    }


def _refusal(refusal: Refusal) -> JsonObject:
    return {"reason": refusal.reason.value, "text": str(refusal.text)}

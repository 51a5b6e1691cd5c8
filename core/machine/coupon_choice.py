"""Whether a coupon can settle a gantry's span, and which coupon, or marks over the bed, would.

Stage: correction. Input: the skew's uncertainty, the profile, the caliper's range. Output: a plain answer.
A span counts as settled when the standard uncertainty of the move is at most half of what is wanted over the span, the
rule that verdicts go by. Wanted, when the profile does not say: ISO 2768-2 class K for a side as long as the span.
"""

import math

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import DIAGONALS, EDGES, MAX_SIDE_MM, TEN_FEATURES, Coupon, Feature
from core.machine.move import move_of_skew
from core.machine.profile import MachineProfile
from core.metrology import Estimate, MeasuringSetup, Method, Reading, Unit, adjust, perpendicularity_tolerance_mm
from core.said import Length, Part, Said, Size, paragraph, said

CALIPER_RANGE_MM = 150.0  # the commonest digital caliper (common practice)
TAPE_REPEATABILITY_MM = 0.5  # a good tape between fine marks, read with care (common practice)
BED_SHARE = 0.9  # marks keep clear of the bed's ends
_CLEARANCE_MM = 2.0
_ROUND_MM = 5.0
_LONGER_BY = 1.2  # a coupon that is not square shows when it was turned by a quarter
_LONGEST_TABLE_MM = 3000.0


class SpanAnswer(Struct, frozen=True, kw_only=True):
    """Whether the evidence settles the span; `wanted_mm` is how far out of square the gantry may stay over it.

    `better` is the coupon that would do, or the best the caliper can span; None where it is not needed.
    """

    settles: bool
    wanted_mm: float
    better: Coupon | None
    text: Part


def wanted_over_span_mm(profile: MachineProfile) -> float:
    """How far out of square the gantry may stay over its span."""
    if profile.wanted_mm is not None:
        return profile.wanted_mm
    return perpendicularity_tolerance_mm(min(profile.span_mm, _LONGEST_TABLE_MM), "K")


def span_answer(
    skew_deg: Estimate, profile: MachineProfile, setup: MeasuringSetup, caliper_range_mm: float = CALIPER_RANGE_MM
) -> SpanAnswer:
    """Whether this skew is known well enough for this span, and what would be if it is not."""
    wanted_mm = wanted_over_span_mm(profile)
    move_mm = move_of_skew(skew_deg, profile.span_mm)
    settles = move_mm.u <= wanted_mm / 2.0
    parts: dict[str, Part] = {
        "span": Length(profile.span_mm, None),
        "known": Length(move_mm.U95),
        "wanted": Length(wanted_mm, None),
    }
    if settles:
        text = said("Over {span} the move is known to ± {known}; wanted is {wanted}: it is enough.", **parts)
        return SpanAnswer(settles=True, wanted_mm=wanted_mm, better=None, text=text)
    better = largest_coupon(caliper_range_mm)
    not_enough = said(
        "Over {span} the move is known to ± {known}; wanted is {wanted}: this coupon cannot settle this span.", **parts
    )
    would = _larger_sentences(better, profile, setup, wanted_mm)
    return SpanAnswer(
        settles=False,
        wanted_mm=wanted_mm,
        better=better,
        text=paragraph(not_enough, *would),
    )


def _larger_sentences(
    better: Coupon, profile: MachineProfile, setup: MeasuringSetup, wanted_mm: float
) -> tuple[Said, ...]:
    """What a larger coupon would give, and marks over the bed where that is not enough either."""
    coupon_mm = move_of_skew(Estimate(value=0.0, u=planned_skew_u_deg(better, setup)), profile.span_mm)
    size, known = Size(better.width_mm, better.height_mm), Length(coupon_mm.U95)
    if coupon_mm.u <= wanted_mm / 2.0:
        return (said("A coupon of {size}, measured the same way, would: ± {known}.", size=size, known=known),)
    return (
        said("Nor would {size}, the largest this caliper spans (± {known}).", size=size, known=known),
        _marks_sentence(profile, setup, wanted_mm),
    )


def largest_coupon(caliper_range_mm: float) -> Coupon:
    """The coupon of whole 5 mm that shows skew best with both diagonals inside the caliper's range."""
    reach_mm = caliper_range_mm - _CLEARANCE_MM
    best: tuple[float, float, float] | None = None
    sides = [_ROUND_MM * count for count in range(2, int(reach_mm // _ROUND_MM) + 1)]
    for height_mm in sides:
        for width_mm in sides:
            diagonal_mm = math.hypot(width_mm, height_mm)
            if diagonal_mm <= reach_mm and width_mm >= _LONGER_BY * height_mm:
                # Difference of the diagonals per skew is 2 W H / D (parallelogram law).
                best = max(best or (0.0, 0.0, 0.0), (width_mm * height_mm / diagonal_mm, width_mm, height_mm))
    if best is None:
        return Coupon(width_mm=2.0 * _ROUND_MM, height_mm=2.0 * _ROUND_MM)
    return Coupon(width_mm=best[1], height_mm=best[2])


def planned_skew_u_deg(
    coupon: Coupon, setup: MeasuringSetup, features: tuple[Feature, ...] = TEN_FEATURES, method: Method = Method.CABLE
) -> float:
    """Standard uncertainty of the skew to expect of a coupon read once, before it is cut."""
    readings = [
        Reading(
            feature=feature,
            value=coupon.nominal(feature),
            unit=Unit.MM if feature.is_length else Unit.DEG,
            method=method,
        )
        for feature in features
    ]
    return adjust(coupon, readings, setup).skew_deg.u


def _marks_sentence(profile: MachineProfile, setup: MeasuringSetup, wanted_mm: float) -> Said:
    """What marks over the whole bed would give."""
    if profile.bed_width_mm is None or profile.bed_height_mm is None:
        return said(
            "Make fine marks over the whole bed, measure sides and diagonals by tape or trammel, and type them in."
        )
    marks = Coupon(
        width_mm=min(BED_SHARE * profile.bed_width_mm, MAX_SIDE_MM),
        height_mm=min(BED_SHARE * profile.bed_height_mm, MAX_SIDE_MM),
    )
    taped = replace(setup, typed_repeatability_mm=TAPE_REPEATABILITY_MM)
    u_deg = planned_skew_u_deg(marks, taped, EDGES + DIAGONALS, Method.TYPED)
    move_mm = move_of_skew(Estimate(value=0.0, u=u_deg), profile.span_mm)
    size, known = Size(round(marks.width_mm), round(marks.height_mm)), Length(move_mm.U95)
    if move_mm.u <= wanted_mm / 2.0:
        return said(
            "Make fine marks {size} apart over the bed, measure sides and diagonals by tape or trammel and type them "
            "in: ± {known}, that is enough.",
            size=size,
            known=known,
        )
    return said(
        "Make fine marks {size} apart over the bed, measure sides and diagonals by tape or trammel and type them in: "
        "± {known}, measure them several times.",
        size=size,
        known=known,
    )

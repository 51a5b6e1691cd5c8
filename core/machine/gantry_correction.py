"""The move that makes the gantry square: how much, which end, which way, in the adjuster's own units; or why not.

Stage: correction. Input: an evaluation and a machine profile. Output: `Correction` or `Refusal`.
"""

import math
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import Coupon
from core.machine.correction_words import (
    controller_sentence,
    least_count_sentence,
    own_units_sentence,
    part_sentence,
    part_side_mm,
    stack_sentence,
)
from core.machine.directions import Direction, Side
from core.machine.feelers import FeelerStack, leaves_for, paper_sheets
from core.machine.holding import HowHeld, TurnedPart
from core.machine.move import end_and_direction, move_of_skew, settable_move
from core.machine.move_order import MoveOrder
from core.machine.parallelism import inside_of
from core.machine.prediction import PredictedReading, predict_next
from core.machine.profile import MachineProfile
from core.metrology import (
    TRIAL_SHARE,
    Answers,
    CharacteristicGroup,
    Estimate,
    Evaluation,
    MeasuringSetup,
    MoveEvidence,
    Verdict,
    WitnessKind,
    move_evidence,
    too_small,
)
from core.said import NOTHING, Angle, Length, Part, Said, Series, paragraph, said


class RefusalReason(StrEnum):
    """Why no correction is given."""

    INCONSISTENT = "inconsistent"
    SIGN_OPEN = "sign-open"
    NOT_CROSS_CHECKED = "not-cross-checked"
    MARK_NOT_CONFIRMED = "mark-not-confirmed"
    MARK_UNKNOWN = "mark-unknown"
    NO_WITNESS = "no-witness"
    WITNESSES_DISAGREE = "witnesses-disagree"
    NOT_SIGNIFICANT = "not-significant"
    LEAST_COUNT = "least-count"
    NOT_ADJUSTABLE = "not-adjustable"
    NO_REFERENCE = "no-reference"
    REFERENCE_TOO_COARSE = "reference-too-coarse"
    CORRECTED_ELSEWHERE = "corrected-elsewhere"
    SPENT = "spent"


class Refusal(Struct, frozen=True, kw_only=True):
    """No correction, and the sentence that says why and what would help."""

    reason: RefusalReason
    text: Said


class Correction(Struct, frozen=True, kw_only=True):
    """One move. `move_mm` is positive; `end` and `direction` are as seen from the front of the machine.

    `settable_mm` is the move the adjuster can really make (whole teeth, twelfths of a turn; equal to the move where it
    moves freely), `left_skew_deg` what its least count leaves. `leaves` is None where one feeler set cannot make it up.
    `share` is less than 1 for a trial step, a part of the whole move because its direction is not proven; `witness` is
    what proved it. `predicted` are the ten readings to expect of the next `coupon` (empty, None where only the skew was
    known). `order` words the move together with its caution, `sentences` say it all.
    """

    span_mm: float
    skew_deg: Estimate
    move_mm: Estimate
    end: Side
    direction: Direction
    part: TurnedPart
    settable_mm: float
    left_skew_deg: float
    own_units: Said
    leaves: FeelerStack | None
    order: MoveOrder
    sentences: tuple[Part, ...]
    predicted: tuple[PredictedReading, ...] = ()
    coupon: Coupon | None = None
    share: float = 1.0
    witness: WitnessKind | None = None

    @property
    def text(self) -> Series:
        """Everything there is to say, in one paragraph."""
        return paragraph(*self.sentences)


def profile_of_span(span_mm: float) -> MachineProfile:
    """The profile when only a span is known: gantry along X, front at the side Y grows away from, both ends movable."""
    return MachineProfile(name="", span_mm=span_mm)


def gantry_correction(
    evaluation: Evaluation,
    profile: MachineProfile,
    *,
    answers: Answers,
    setup: MeasuringSetup | None = None,
) -> Correction | Refusal:
    """The correction an evaluated coupon calls for, or the reason why none can be given.

    `answers` are what the person said beside the readings, first of all which corner carried the mark. `setup` is the
    one the next coupon will be measured with (the default one if None).
    """
    evidence = move_evidence(evaluation, answers)
    if evidence.held is not None:
        return refusal_of(evidence)
    adjustment = evaluation.adjustment
    within = evaluation.group(CharacteristicGroup.SQUARENESS).verdict is Verdict.GO
    correction = correction_of_skew(evidence.skew_deg, profile, within_limits=within, share=evidence.share)
    if isinstance(correction, Refusal):
        return correction
    correction = replace(correction, witness=evidence.witness)
    if evidence.skew_deg.value != adjustment.skew_deg.value:
        return correction  # the next coupon will lie as the design was turned, or not: nothing is foretold
    # Set anywhere inside what the meter accepts: a rectangular distribution (JCGM 100:2008, 4.3.7).
    setting_u_mm = inside_of(correction.move_mm, profile) / math.sqrt(3.0)
    setting_u_deg = math.degrees(setting_u_mm / profile.span_mm)
    predicted = predict_next(adjustment, setup or MeasuringSetup(), correction.left_skew_deg, setting_u_deg)
    return replace(correction, predicted=predicted, coupon=evaluation.coupon)


def refusal_of(evidence: MoveEvidence) -> Refusal:
    """What in the evidence forbids a correction."""
    assert evidence.held is not None
    return Refusal(reason=RefusalReason(evidence.held.value), text=evidence.why)


def correction_of_skew(
    skew_deg: Estimate, profile: MachineProfile, *, within_limits: bool = False, share: float = 1.0
) -> Correction | Refusal:
    """The correction of a skew known to be trustworthy; refused when not significant, too fine or not adjustable.

    Of a skew whose direction is not proven only a `share` is moved.
    """
    whole_mm = move_of_skew(skew_deg, profile.span_mm)
    move_mm = Estimate(value=share * whole_mm.value, u=share * whole_mm.u, nu=whole_mm.nu)
    if not skew_deg.sign_is_sure:
        return Refusal(reason=RefusalReason.NOT_SIGNIFICANT, text=too_small(skew_deg))
    if profile.held is HowHeld.NOT_ADJUSTABLE:
        return Refusal(
            reason=RefusalReason.NOT_ADJUSTABLE,
            text=said(
                "This machine cannot be adjusted. Correct the design file instead: its skew is {skew}.",
                skew=_deg(skew_deg),
            ),
        )
    settable_mm = settable_move(move_mm.value, profile)
    left_mm = whole_mm.value - settable_mm
    left_skew_deg = math.copysign(1.0, skew_deg.value) * math.degrees(math.atan(left_mm / profile.span_mm))
    if settable_mm == 0.0:
        return Refusal(
            reason=RefusalReason.LEAST_COUNT,
            text=said(
                "Your adjuster is coarser than what remains: stop here. {rest} over the span remain, and the "
                "adjuster's least count is {least}.",
                rest=Length(move_mm.value),
                least=Length(profile.least_count_mm or 0.0),
            ),
        )
    end, direction = end_and_direction(skew_deg.value, profile)
    own_units = own_units_sentence(move_mm.value, settable_mm, end, profile)
    leaves = leaves_for(settable_mm)
    sheets = paper_sheets(settable_mm)
    order = MoveOrder(
        end=end,
        direction=direction,
        move=Length(move_mm.value, u_mm=move_mm.U95),
        part=profile.holding.part,
        either=len(profile.can_move) == 2,
        front_words=profile.front_words,
        condition=NOTHING if share == 1.0 else _HALF_TRIAL if share > TRIAL_SHARE else _TRIAL,
    )
    sentences = (
        order.told,
        own_units,
        stack_sentence(leaves, sheets),
        least_count_sentence(left_mm, left_skew_deg, profile) if share == 1.0 else NOTHING,
        controller_sentence(profile),
        part_sentence(skew_deg, part_side_mm(profile)),
        said("The coupon is within its limits: this correction is not needed.") if within_limits else NOTHING,
    )
    return Correction(
        span_mm=profile.span_mm,
        skew_deg=skew_deg,
        move_mm=move_mm,
        end=end,
        direction=direction,
        part=profile.holding.part,
        settable_mm=settable_mm,
        left_skew_deg=left_skew_deg,
        own_units=own_units,
        leaves=leaves,
        order=order,
        sentences=tuple(sentence for sentence in sentences if sentence),
        share=share,
    )


_TRIAL = said(
    "A trial step, a quarter of the move: its direction is not proven; if the diagonals were exchanged this makes it "
    "worse. Cut again and measure: the rest follows only when the skew has changed as foretold."
)
_HALF_TRIAL = said(
    "A trial step, half of the move, for a quarter could not be seen: its direction is not proven; if the diagonals "
    "were exchanged this makes it worse. Cut again and measure: the rest follows only when the skew has changed as "
    "foretold."
)


def _deg(skew_deg: Estimate) -> Angle:
    return Angle(skew_deg.value, 3, u_deg=skew_deg.U95, signed=True)

"""What tells the direction of the skew without believing the names of the diagonals; without it no move is said.

Stage: after the verdict, before the correction. In: an Evaluation and what the person answered. Out: `MoveEvidence`:
the witness that holds, or why no move can be said and what would bring one. Repeats repeat a wrong name: two diagonals
taken for one another, or a coupon turned over, show the opposite skew however often they are read.

    keyed seats      seats of two widths: names exchanged would look like more than two degrees of skew
    corners          the angle gauge, which knows nothing of diagonals
    reversal check   two coupons and feelers, or one coupon and a fence
    try square       held against the light at two corners: opposite answers give the direction
    trial step       none of these: a quarter of the move, and the re-cut decides

One question remains: which corner carried the mark as the coupon lay on the bed. A design turned in the cutting
software turns mark and seats with it, and nothing on the coupon can tell.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.geometry import CORNERS, DIAGONALS, Coupon, Feature, are_keyed, key_deg
from core.metrology.adjustment import Estimate
from core.metrology.groups import flagged
from core.metrology.judgement import Evaluation
from core.metrology.two_skews import AGREEMENT_SDS, ROUGHLY_SDS, TwoSkews, rough_skews
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.said import NOTHING, Angle, Said, said

PROVEN_NAMES_DEG = 0.7  # nearer the key's own skew than that, a coupon may be a square one with exchanged names
_SURELY_OTHER_DEG = 0.3  # what a key is known to, and a lean that a try square shows
_POWER_SDS = 0.84  # 80 %: a difference of that size is then seen four times out of five
# The same without seats, where corners burnt unequally feign a skew: nearer together, and seen 19 times out of 20.
_BURNT_AGREEMENT_SDS, _BURNT_POWER_SDS = 1.96, 1.64
TRIAL_SHARE = 0.25
LARGER_TRIAL_SHARE = 0.5  # where the change by a quarter is too small to be seen
READINGS_OF_A_DIAGONAL = 2


class MarkSeen(StrEnum):
    """Which corner carried the mark as the coupon lay on the bed."""

    NL = "nl"
    NR = "nr"
    FR = "fr"
    FL = "fl"
    MIRRORED = "mirrored"
    UNKNOWN = "unknown"


class Light(StrEnum):
    """Where light shows between a try square and the coupon, its stock along the near edge."""

    BLADE_END = "blade-end"  # the corner is acute
    CORNER = "corner"  # the corner is obtuse
    CANNOT_TELL = "cannot-tell"


class WitnessKind(StrEnum):
    """What told the direction."""

    KEYED_SEATS = "keyed-seats"
    CORNERS = "corners"
    REVERSAL = "reversal"
    TRY_SQUARE = "try-square"
    FORETOLD = "foretold"  # a trial step changed the skew as foretold
    TRIAL_STEP = "trial-step"  # not proven: a part of the move only


class MoveHeld(StrEnum):
    """Why no move is said."""

    SIGN_OPEN = "sign-open"
    INCONSISTENT = "inconsistent"
    NOT_SETTLED = "not-cross-checked"
    DISAGREE = "witnesses-disagree"
    NO_WITNESS = "no-witness"
    MARK_NOT_CONFIRMED = "mark-not-confirmed"  # not asked yet
    MARK_UNKNOWN = "mark-unknown"
    NOT_SIGNIFICANT = "not-significant"


class Answers(Struct, frozen=True, kw_only=True):
    """What the person said or found beside the readings; None and False where not asked.

    `reversal_deg` is the skew that a reversal check found. `names_confirmed`: the person wants a trial step.
    `foretold`: whether the re-cut after a trial step changed the skew as foretold, None without one that could be seen.
    """

    mark: MarkSeen | None = None
    reversal_deg: Estimate | None = None
    light_at_nl: Light | None = None
    light_at_nr: Light | None = None
    names_confirmed: bool = False
    foretold: bool | None = None


class MoveEvidence(Struct, frozen=True, kw_only=True):
    """Whether a move may be said. `skew_deg` is the machine's: that of the coupon, turned as its mark lay on the bed.

    `share` of the move is said (1 but for a trial step). `held` is why none is, `why` the sentence, `read` the features
    that would help.
    """

    witness: WitnessKind | None
    skew_deg: Estimate
    share: float = 1.0
    held: MoveHeld | None = None
    why: Said = NOTHING
    read: tuple[Feature, ...] = ()


def move_evidence(evaluation: Evaluation, answers: Answers) -> MoveEvidence:
    """The witness that allows a move to be said, or the reason that says most why there is none."""
    skew = evaluation.adjustment.skew_deg
    held = held_by_readings(evaluation)
    if held is not None:
        return held
    if answers.mark in (MarkSeen.MIRRORED, MarkSeen.UNKNOWN):
        return _held(skew, MoveHeld.MARK_UNKNOWN, _MARK[answers.mark])
    if evaluation.skews_disagree:  # the best fit of both is an average that neither says
        return _held(skew, MoveHeld.DISAGREE, _disagreement(evaluation))
    if not skew.sign_is_sure:
        return _held(skew, MoveHeld.NOT_SIGNIFICANT, too_small(skew))
    witness = holding_witness(evaluation, answers)
    if isinstance(witness, MoveEvidence):
        return witness
    if answers.mark is None:
        return _held(skew, MoveHeld.MARK_NOT_CONFIRMED, _ASK_FOR_MARK)
    turned = turned_by(answers.mark)
    share = trial_share(skew) if witness is WitnessKind.TRIAL_STEP else 1.0
    return MoveEvidence(
        witness=witness, skew_deg=Estimate(value=turned * skew.value, u=skew.u, nu=skew.nu), share=share
    )


def too_small(skew: Estimate) -> Said:
    """Why a skew whose sign is not sure is left alone."""
    return said(
        "No correction: a skew of {skew} is too small for this measurement to be sure of its direction.",
        skew=_angle(skew),
    )


def turned_by(mark: MarkSeen | None) -> float:
    """+1 or -1: what a coupon's skew is multiplied by, as its mark lay on the bed, to be the machine's."""
    return -1.0 if mark in (MarkSeen.NR, MarkSeen.FL) else 1.0


def holding_witness(evaluation: Evaluation, answers: Answers) -> WitnessKind | MoveEvidence:
    """The first witness that holds; where two contradict one another, or none is there, why no move is said."""
    skew = evaluation.adjustment.skew_deg
    if names_are_proven(evaluation):
        return WitnessKind.KEYED_SEATS
    if corners_agree(evaluation):
        return WitnessKind.CORNERS
    for kind, sign in (
        (WitnessKind.REVERSAL, _reversal_sign(skew, answers)),
        (WitnessKind.TRY_SQUARE, _light_sign(answers) if light_can_tell(evaluation) else None),
    ):
        if sign is not None and sign * skew.value > 0.0:
            return kind
        if sign is not None:
            return _held(skew, MoveHeld.DISAGREE, _OTHER_WAY[kind])
    if answers.foretold is False:
        return _held(skew, MoveHeld.DISAGREE, _NOT_AS_FORETOLD)
    if answers.foretold:
        return WitnessKind.FORETOLD
    if answers.names_confirmed:
        return WitnessKind.TRIAL_STEP
    return _held(skew, MoveHeld.NO_WITNESS, _no_witness(evaluation, answers), _corners_to_read(evaluation))


def names_are_proven(evaluation: Evaluation) -> bool:
    """Keyed seats: the names of the diagonals are right, and the coupon lies as its mark says."""
    towards_key_deg = _towards_key_deg(evaluation)
    return towards_key_deg is not None and _is_proven(towards_key_deg, evaluation.coupon)


def _is_proven(towards_key_deg: float, coupon: Coupon) -> bool:
    """Exchanged, a coupon's skew by lengths is the key less its own. A key of 2.3 degrees proves the names up to 0.7 on
    its side, where an exchanged coupon would lean 1.6 itself; on the other side that one would lean more still, and the
    names are proven as far as any coupon may lean: up to those 1.6."""
    assert coupon.seats is not None
    most_deg = abs(key_deg(coupon.width_mm, coupon.height_mm, coupon.seats)) - PROVEN_NAMES_DEG
    return -most_deg <= towards_key_deg <= PROVEN_NAMES_DEG


def names_are_in_doubt(evaluation: Evaluation) -> bool:
    """Keyed seats, and a skew by lengths that diagonals taken for one another, or a coupon turned over, show as well:
    it may be the coupon's own only once the corners lean alike."""
    towards_key_deg = _towards_key_deg(evaluation)
    if towards_key_deg is None or _is_proven(towards_key_deg, evaluation.coupon):
        return False
    return not corners_agree(evaluation)


def skews_say_different_words(evaluation: Evaluation) -> bool:
    """Lengths and corners do not agree, and by one of them alone the skew is within its limit, by the other beyond: a
    word by the average of both would be neither's."""
    if not evaluation.skews_disagree:
        return False
    by, limit_deg = evaluation.skew_by, _limit_deg(evaluation)
    if by.lengths is None or by.corners is None:
        return False
    return (abs(by.lengths.value) > limit_deg) is not (abs(by.corners.value) > limit_deg)


def leans_by_names_alone(evaluation: Evaluation) -> bool:
    """Whether the way a coupon leans rests on which diagonal was called which."""
    by = evaluation.skew_by
    return by.lengths is not None and not names_are_proven(evaluation) and not _corners_lean_alike(by)


def light_can_tell(evaluation: Evaluation) -> bool:
    """Whether a try square tells the diagonals' names from exchanged ones.

    Corner to corner a burnt corner fools the diagonals, not the square. With keyed seats and a large skew by lengths
    the coupon may, its diagonals exchanged, lean the same way by another amount: then its direction proves nothing.
    """
    coupon = evaluation.coupon
    if coupon.seats is None:
        return False
    if not names_are_in_doubt(evaluation):
        return True
    skew_deg = _keyed_skew_deg(evaluation)
    assert skew_deg is not None
    exchanged_deg = key_deg(coupon.width_mm, coupon.height_mm, coupon.seats) - skew_deg
    return math.copysign(1.0, skew_deg) * exchanged_deg < -_SURELY_OTHER_DEG


def trial_share(skew_deg: Estimate) -> float:
    """How much of the move a trial step makes: a quarter, a half where a quarter of the skew could not be seen."""
    seen_deg = AGREEMENT_SDS * math.sqrt(2.0) * skew_deg.u
    return TRIAL_SHARE if TRIAL_SHARE * abs(skew_deg.value) > seen_deg else LARGER_TRIAL_SHARE


def came_as_foretold(before_deg: Estimate, after_deg: Estimate, step_deg: Estimate) -> bool | None:
    """Whether a re-cut changed the skew by what was done to the machine; None where no change can be seen.

    `step_deg` is the change foretold, with the uncertainty of what was really set.
    """
    change, u = after_deg.value - before_deg.value, math.hypot(before_deg.u, after_deg.u)
    if abs(change) <= AGREEMENT_SDS * u:
        return None
    return abs(change - step_deg.value) <= AGREEMENT_SDS * math.hypot(u, step_deg.u)


def _keyed_skew_deg(evaluation: Evaluation) -> float | None:
    """The skew by lengths of a coupon with keyed seats; None without them, or before both diagonals are read."""
    coupon = evaluation.coupon
    if coupon.seats is None or not are_keyed(coupon.width_mm, coupon.height_mm, coupon.seats):
        return None
    lengths = evaluation.skew_by.lengths
    return None if lengths is None else lengths.value


def _towards_key_deg(evaluation: Evaluation) -> float | None:
    """The same, positive on the side on which diagonals exchanged on a square coupon would show it."""
    skew_deg, coupon = _keyed_skew_deg(evaluation), evaluation.coupon
    if skew_deg is None or coupon.seats is None:
        return None
    return skew_deg * math.copysign(1.0, key_deg(coupon.width_mm, coupon.height_mm, coupon.seats))


def corners_agree(evaluation: Evaluation) -> bool:
    """Lengths and corners lean the same way, and the corners are known well enough for that to say something.

    Corner to corner, burning may feign a skew of any size: what has to show is one as large as the limit, and whoever
    agrees by less than that is read once more. With seats only an exchange is left to fear, and that shows by twice the
    skew.
    """
    rough = rough_skews(evaluation.adjustment, evaluation.setup)
    surely = _agree_by(evaluation, rough, ROUGHLY_SDS)
    return surely or (_agree_by(evaluation, rough, -ROUGHLY_SDS) and _agree_by(evaluation, evaluation.skew_by))


def _agree_by(evaluation: Evaluation, by: TwoSkews, reserve_sds: float = 0.0) -> bool:
    """The same by one pair of skews, each limit kept with a reserve (negative: perhaps broken by as much)."""
    if by.lengths is None or by.corners is None or by.joint_u_deg is None:
        return False
    sds, power_sds, to_tell_deg = AGREEMENT_SDS, _POWER_SDS, 2.0 * abs(by.lengths.value)
    if evaluation.coupon.seats is None:
        sds, power_sds, to_tell_deg = _BURNT_AGREEMENT_SDS, _BURNT_POWER_SDS, _limit_deg(evaluation)
    tells = (sds + power_sds + reserve_sds) * by.joint_u_deg <= to_tell_deg
    return tells and not by.differ(sds - reserve_sds) and _corners_lean_alike(by, reserve_sds * by.joint_u_deg)


def _corners_lean_alike(by: TwoSkews, reserve_deg: float = 0.0) -> bool:
    """The corners alone show a lean, and it is the lengths' way."""
    if by.lengths is None or by.corners is None:
        return False
    alike_deg = math.copysign(by.lengths.value, by.lengths.value * by.corners.value)
    return alike_deg > reserve_deg and abs(by.corners.value) > by.corners.U95 + reserve_deg


def _limit_deg(evaluation: Evaluation) -> float:
    limits, side_mm = evaluation.limits, evaluation.coupon.shorter_side_mm
    if limits.perpendicularity_mm is not None:
        return math.degrees(math.atan(limits.perpendicularity_mm / side_mm))
    if limits.corner_deg is not None:
        return limits.corner_deg
    if limits.diagonal_mm is None:
        return 0.0
    width_mm, height_mm = evaluation.coupon.width_mm, evaluation.coupon.height_mm
    # A small skew g makes the diagonals differ by 2 W H g / D.
    return math.degrees(math.atan(limits.diagonal_mm * math.hypot(width_mm, height_mm) / (2.0 * width_mm * height_mm)))


def held_by_readings(evaluation: Evaluation) -> MoveEvidence | None:
    """What in the readings themselves forbids a move, witness or not."""
    skew = evaluation.adjustment.skew_deg
    if evaluation.sign_open:
        return _held(skew, MoveHeld.SIGN_OPEN, _SIGN_OPEN)
    if not evaluation.adjustment.consistent:
        return _held(skew, MoveHeld.INCONSISTENT, _INCONSISTENT)
    if evaluation.seats_in_doubt:  # they would prove the names of the diagonals
        return _held(skew, MoveHeld.NOT_SETTLED, evaluation.do_first)
    counts = {reading.feature: reading.count for reading in evaluation.adjustment.readings}
    once = tuple(feature for feature in DIAGONALS if counts.get(feature, 0) < READINGS_OF_A_DIAGONAL)
    doubtful = (*evaluation.adjustment.learned.disagreeing, *flagged(evaluation.adjustment))
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    unsettled = squareness.verdict is Verdict.NO_GO and not squareness.settled
    if unsettled and (names_are_in_doubt(evaluation) or skews_say_different_words(evaluation)):
        unsettled = False  # for a witness to settle, not for the readings
    if once or doubtful or unsettled:
        again = (squareness.again,) if squareness.again is not None else ()
        return _held(skew, MoveHeld.NOT_SETTLED, _NOT_SETTLED, once or doubtful or again)
    return None


def _held(skew: Estimate, held: MoveHeld, why: Said, read: tuple[Feature, ...] = ()) -> MoveEvidence:
    return MoveEvidence(witness=None, skew_deg=skew, held=held, why=why, read=read)


def _reversal_sign(skew: Estimate, answers: Answers) -> float | None:
    """The direction a reversal check found, where it proves one and agrees in size; None where it says nothing."""
    found = answers.reversal_deg
    if found is None or abs(found.value) <= found.U95:
        return None
    agrees = abs(abs(found.value) - abs(skew.value)) <= AGREEMENT_SDS * math.hypot(found.u, skew.u)
    return math.copysign(1.0, found.value) if agrees else -math.copysign(1.0, skew.value)


def _light_sign(answers: Answers) -> float | None:
    """The direction that a try square shows; the same light at both corners means that the square is wrong."""
    match answers.light_at_nl, answers.light_at_nr:
        case Light.BLADE_END, Light.CORNER:
            return 1.0
        case Light.CORNER, Light.BLADE_END:
            return -1.0
    return None


def square_is_wrong(answers: Answers) -> bool:
    """The same light at NL and NR: no coupon does that alone, unless its edges are far from parallel."""
    return answers.light_at_nl is answers.light_at_nr and answers.light_at_nl in (Light.BLADE_END, Light.CORNER)


def _corners_to_read(evaluation: Evaluation) -> tuple[Feature, ...]:
    """Corners not read yet, the opposite pair NL and FR first: it shows the skew free of any taper."""
    read = {reading.feature for reading in evaluation.adjustment.readings}
    NL, NR, FR, FL = CORNERS
    return tuple(corner for corner in (NL, FR, NR, FL) if corner not in read)


def _angle(skew: Estimate) -> Angle:
    return Angle(skew.value, decimals=3, u_deg=skew.U95, signed=True)


def _disagreement(evaluation: Evaluation) -> Said:
    by = evaluation.skew_by
    assert by.lengths is not None
    assert by.corners is not None
    lengths, corners = _angle(by.lengths), _angle(by.corners)
    if evaluation.coupon.seats is None:
        return said(
            "No correction: the lengths say a skew of {lengths}, the corners {corners}. Usual causes: the diagonals "
            "taken for one another, the coupon turned over, corners burnt unequally. A coupon with seats tells.",
            lengths=lengths,
            corners=corners,
        )
    return said(
        "No correction: the lengths say a skew of {lengths}, the corners {corners}. Usual causes: the diagonals taken "
        "for one another, the coupon turned over, burr under a jaw or a blade. Read the corners and the diagonals "
        "again.",
        lengths=lengths,
        corners=corners,
    )


def _no_witness(evaluation: Evaluation, answers: Answers) -> Said:
    if square_is_wrong(answers):
        return said("No correction yet: the same light at both corners means that the square is not square.")
    if not _corners_to_read(evaluation):
        return said(
            "No correction yet: the corners, read as they are, do not tell which diagonal is which. Read all four once "
            "more, or check by reversal; a trial step is the last resort."
        )
    if not light_can_tell(evaluation):
        return said(
            "No correction yet: names alone tell the diagonals apart. Read the corners, or check by reversal; last "
            "resort: a trial step."
        )
    return said(
        "No correction yet: names alone tell the diagonals apart. Read the corners, hold a try square at both near "
        "ones, or check by reversal; last resort: a trial step."
    )


_SIGN_OPEN = said(
    "No correction: the readings do not tell which way the coupon leans. Look at the orientation mark, lay the coupon "
    "as it was cut, and read both diagonals again."
)
_INCONSISTENT = said("No correction: the readings contradict each other. Settle that first.")
_NOT_SETTLED = said(
    "No correction yet: a slip could pass unseen. Read both diagonals at least twice, and again what does not agree."
)
_ASK_FOR_MARK = said(
    "No correction yet: which corner carried the mark as the coupon lay on the bed? A design turned in the cutting "
    "software turns the mark with it."
)
_MARK = {
    MarkSeen.MIRRORED: said(
        "No correction: the design was cut mirrored, and the coupon cannot tell about which line. Cut it as it is."
    ),
    MarkSeen.UNKNOWN: said(
        "No correction: a design turned in the cutting software turns the mark with it. Cut another coupon without "
        "turning it, and pencil the corner nearest to you on the left before lifting it."
    ),
}
_NOT_AS_FORETOLD = said(
    "No correction: the trial step did not change the skew as foretold. Usual causes: the diagonals taken for one "
    "another, the coupon turned over, a gantry that did not stay where it was set. Cut another coupon and let a "
    "witness decide."
)
_OTHER_WAY = {
    WitnessKind.REVERSAL: said(
        "No correction: the reversal check found another skew than the diagonals. Usual causes: the diagonals taken "
        "for one another, the coupon turned over, corners burnt unequally."
    ),
    WitnessKind.TRY_SQUARE: said(
        "No correction: the try square shows the coupon leaning the other way than the diagonals. Usual causes: the "
        "diagonals taken for one another, the coupon turned over."
    ),
}

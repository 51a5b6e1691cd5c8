"""What a verdict asks of the person, in one sentence; with a move, what comes before hands go in directly below it.

Stage: screen. Input: Snapshot. Output: WhatToDo, frozen. No widget in here.
"""

from msgspec import Struct

from core.geometry import CORNERS, Feature
from core.machine import Correction, Direction, Refusal, RefusalReason, Side
from core.metrology import Characteristic, CharacteristicGroup, Evaluation, NextReason, Verdict, held_by_readings
from core.said import NOTHING, Angle, Length, Part, Said, said
from ui.state import Snapshot

_EDGE = {
    "edge-near": said("Near edge"),
    "edge-right": said("Right edge"),
    "edge-far": said("Far edge"),
    "edge-left": said("Left edge"),
}
_REFUSED = {
    RefusalReason.MARK_NOT_CONFIRMED: said("First say where the mark was"),
    RefusalReason.MARK_UNKNOWN: said("Cut a coupon whose mark can be read"),
    RefusalReason.NOT_SIGNIFICANT: said("Nothing to move: the skew is not proven"),
    RefusalReason.LEAST_COUNT: said("Stop here: the adjuster is too coarse"),
    RefusalReason.NOT_ADJUSTABLE: said("Correct the design: the machine cannot be set"),
    RefusalReason.CORRECTED_ELSEWHERE: said("Do not move it: it is corrected elsewhere"),
    RefusalReason.SPENT: said("Cut and measure a new coupon"),
    RefusalReason.WITNESSES_DISAGREE: said("No move: lengths and corners disagree"),
    RefusalReason.NO_WITNESS: said("No move yet: it needs a witness"),
}
# What a witness or an answer of the person can still bring.
ANSWERABLE = (
    RefusalReason.NO_WITNESS,
    RefusalReason.WITNESSES_DISAGREE,
    RefusalReason.MARK_NOT_CONFIRMED,
    RefusalReason.MARK_UNKNOWN,
)
_NEEDS_READING = (RefusalReason.NOT_CROSS_CHECKED, RefusalReason.SIGN_OPEN)


_MADE = (RefusalReason.SPENT, RefusalReason.CORRECTED_ELSEWHERE)


class WhatToDo(Struct, frozen=True, kw_only=True):
    """`caution` stands directly below `text` wherever that is a move; `u` is the move's expanded uncertainty; `end`
    goes `way`, None where nothing is moved. `measure` is the feature to read, None where none is asked for; `witness`:
    there is a question to be answered, or another way than reading it; `describe`: the machine, before all else."""

    text: Part
    caution: Said = NOTHING
    u: Part = NOTHING
    end: Side | None = None
    way: Direction | None = None
    measure: Feature | None = None
    witness: bool = False
    describe: bool = False


def is_corrected(snapshot: Snapshot) -> bool:
    """Whether the machine was corrected by this coupon: what tells more now is the next one."""
    correction = snapshot.machines.correction
    return isinstance(correction, Refusal) and correction.reason in _MADE


def is_read_too_little(snapshot: Snapshot) -> bool:
    """A finished coupon out of square whose readings themselves forbid a move, and nothing more can be read on it."""
    evaluation = snapshot.evaluation
    if evaluation is None or not snapshot.closed or evaluation.verdict is not Verdict.NO_GO:
        return False
    of_squareness = evaluation.verdict_of is CharacteristicGroup.SQUARENESS
    return of_squareness and not is_corrected(snapshot) and held_by_readings(evaluation) is not None


def what_to_do(snapshot: Snapshot) -> WhatToDo:
    """The one thing to do now."""
    evaluation = snapshot.evaluation
    if snapshot.exercise_is_open:
        return WhatToDo(text=said("Say what is wrong first"))
    if evaluation is None:
        return WhatToDo(text=said("Measure the two diagonals first"))
    if is_read_too_little(snapshot):
        return WhatToDo(text=said("Measure it anew: too little was read for a move"))
    reading = None if snapshot.closed else _to_read(evaluation, snapshot)
    if evaluation.do_first and evaluation.verdict is Verdict.UNDECIDED:
        return WhatToDo(text=evaluation.do_first, measure=reading.measure if reading else None)
    if reading is not None:
        return reading
    another = said("Cut a larger coupon, or a second one")
    match evaluation.verdict:
        case Verdict.INCONSISTENT:
            anew = said("Measure the coupon anew: more than one reading is off")
            return WhatToDo(text=evaluation.do_first or anew)
        case Verdict.GO if evaluation.settled:
            return WhatToDo(text=said("Nothing to do"))
        case Verdict.GO:
            return WhatToDo(text=another if snapshot.closed else said("All is read: finish it"))
        case Verdict.NO_GO if snapshot.closed and not evaluation.settled:
            return WhatToDo(text=another)
        case Verdict.UNDECIDED:
            return WhatToDo(text=another)
        case Verdict.NO_GO:
            return _no_go(evaluation, snapshot.machines.correction)


def _to_read(evaluation: Evaluation, snapshot: Snapshot) -> WhatToDo | None:
    """The reading that is asked for, as long as the word is open or a move lacks its witness."""
    wanted, correction = evaluation.next_reading, snapshot.machines.correction
    asked = wanted.feature if wanted is not None else None
    squareness = evaluation.verdict_of is CharacteristicGroup.SQUARENESS
    witness = (
        evaluation.settled
        and evaluation.verdict is Verdict.NO_GO
        and squareness
        and isinstance(correction, Refusal)
        and (correction.reason in _NEEDS_READING or (correction.reason in ANSWERABLE and asked in CORNERS))
    )
    if wanted is None or (evaluation.settled and not witness):
        return None
    feature = wanted.feature.in_words
    if witness:
        text = said("Read {feature}: a move needs a witness", feature=feature)
    elif wanted.reason is NextReason.FIRST:
        text = said("Read {feature}", feature=feature)
    else:
        text = said("Read {feature} again", feature=feature)
    return WhatToDo(text=text, measure=wanted.feature, witness=witness)


def _no_go(evaluation: Evaluation, correction: Correction | Refusal | None) -> WhatToDo:
    if evaluation.verdict_of is not CharacteristicGroup.SQUARENESS:
        return WhatToDo(text=_off(evaluation.worst))
    if correction is None:
        return WhatToDo(text=said("Describe the machine: it gives the move"), describe=True)
    if isinstance(correction, Refusal):
        text = _REFUSED.get(correction.reason, correction.text)
        return WhatToDo(text=text, witness=correction.reason in ANSWERABLE)
    move, caution = correction.order.in_large
    u = Length(correction.move_mm.U95, 1 if correction.move_mm.value >= 1.0 else 2)
    return WhatToDo(text=move, caution=caution, u=u, end=correction.end, way=correction.direction)


def _off(worst: Characteristic | None) -> Said:
    """What is off by how much, of shape and size."""
    if worst is None:
        return said("See all numbers")
    off = worst.value - worst.nominal
    amount: Part = Length(abs(off)) if worst.unit == "mm" else Angle(abs(off))
    if worst.name in _EDGE:
        edge = _EDGE[worst.name]
        if off > 0:
            return said("{edge} {amount} too long", edge=edge, amount=amount)
        return said("{edge} {amount} too short", edge=edge, amount=amount)
    if worst.name == "taper-x":
        longer, shorter = ("far", "near") if off > 0 else ("near", "far")
    elif worst.name == "taper-y":
        longer, shorter = ("right", "left") if off > 0 else ("left", "right")
    else:
        return _corner_off(worst, amount)
    return said(
        "{edge} {amount} longer than {other}",
        edge=_EDGE[f"edge-{longer}"],
        amount=amount,
        other=Feature(shorter).in_words,
    )


def _corner_off(worst: Characteristic, amount: Part) -> Said:
    """A corner beyond the common skew (positive: acute), its own angle, or the diagonals' difference."""
    kind, _, corner = worst.name.rpartition("-")
    if corner not in ("nl", "nr", "fr", "fl"):
        return said("Diagonals {amount} unequal", amount=amount)
    acute = (worst.value > worst.nominal) == (kind == "perpendicularity")
    feature = Feature(corner).in_words
    if acute:
        return said("{amount} too narrow: {feature}", amount=amount, feature=feature)
    return said("{amount} too wide: {feature}", amount=amount, feature=feature)

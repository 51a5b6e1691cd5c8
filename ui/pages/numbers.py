"""What All numbers says: sentences, skew by lengths beside skew by corners, and the table, failing rows first.

Stage: screen. Input: Snapshot. Output: NumbersPage. Units mm and degrees. No widget in here.
"""

from msgspec import Struct

from core.machine import part_sentence, part_side_mm
from core.metrology import (
    Characteristic,
    Evaluation,
    SizeCause,
    TwoSkews,
    Verdict,
    conditions_sentence,
    cross_check_note,
    explanation_sentences,
    headline,
    size_cause,
    skew_sentence,
)
from core.said import NOTHING, Angle, Length, Part, paragraph, said, said_counted
from ui.pages.practice import NOT_YET
from ui.pages.theme import SHAPE_OF, Shape
from ui.pages.verdict import said_then
from ui.speech import AS_KEPT, AngleStyle, Notation
from ui.state import Snapshot


class Row(Struct, frozen=True, kw_only=True):
    """One characteristic as a row of the table."""

    label: Part
    value: Part
    limits: Part
    shape: Shape


class NumbersPage(Struct, frozen=True, kw_only=True):
    """`notes` are what would pass unseen, what the sizes point to and what the verdict takes for granted. Contradictory
    readings have `explanations` in place of `rows` and notes. `skews` holds lengths beside corners."""

    sentences: tuple[Part, ...]
    skews: Part
    notes: tuple[Part, ...]
    explanations: tuple[Part, ...]
    rows: tuple[Row, ...]
    count_text: Part


EMPTY = NumbersPage(
    sentences=(said("Measure the two diagonals first: they show best whether the coupon is square."),),
    skews=NOTHING,
    notes=(),
    explanations=(),
    rows=(),
    count_text=said("no readings"),
)
# What fails stands first, what is judged before what is told for information.
_ORDER = (Shape.CROSSED_SQUARE, Shape.SPLIT_DISC, Shape.HALF_DIAMOND, Shape.DISC, Shape.RING)


def numbers_page(snapshot: Snapshot) -> NumbersPage:
    """Everything All numbers shows."""
    evaluation = snapshot.evaluation
    if evaluation is None:
        return EMPTY
    contradictory = evaluation.verdict is Verdict.INCONSISTENT
    # Of a group that another reading may have turned no row has a word that stands, finished or not.
    standing = {one.group for one in evaluation.groups if one.settled}
    rows = [row(item, snapshot.settings.notation, stands=item.group in standing) for item in evaluation.characteristics]
    return NumbersPage(
        sentences=_sentences(snapshot, evaluation),
        skews=NOTHING if contradictory else skews_text(evaluation.skew_by),
        notes=() if contradictory else _notes(snapshot, evaluation),
        explanations=_explanations(snapshot, evaluation) if contradictory or evaluation.explanations else (),
        # No value of a contradictory best fit means anything: only what may be wrong with the readings does.
        rows=() if contradictory else tuple(sorted(rows, key=lambda one: _ORDER.index(one.shape))),
        count_text=_count_text(snapshot, evaluation),
    )


def skews_text(skews: TwoSkews) -> Part:
    """Both ways to the skew side by side, and that they disagree where they do; nothing before both are known."""
    if skews.lengths is None or skews.corners is None:
        return NOTHING
    both = said(
        "Skew by lengths {lengths}, by corners {corners}.",
        lengths=Angle(skews.lengths.value, u_deg=skews.lengths.U95, signed=True),
        corners=Angle(skews.corners.value, u_deg=skews.corners.U95, signed=True),
    )
    disagree = said("They differ by more than chance.") if skews.disagree else NOTHING
    return paragraph(both, disagree)


def _count_text(snapshot: Snapshot, evaluation: Evaluation) -> Part:
    count = sum(reading.voided is None for reading in snapshot.readings)
    if evaluation.settled:
        return said_counted("{count} reading, settled", "{count} readings, settled", count=count)
    return said_counted("{count} reading", "{count} readings", count=count)


def _notes(snapshot: Snapshot, evaluation: Evaluation) -> tuple[Part, ...]:
    """What the sizes point to has room here where a window tells it or the size is off; in an exercise it is for the
    person to say."""
    finding = evaluation.size_finding
    separated = finding is not None and finding.cause is SizeCause.SEPARATED
    told = (separated or evaluation.size_verdict is Verdict.NO_GO) and not snapshot.exercise_is_open
    cause = size_cause(evaluation) if told else NOTHING
    notes = (cross_check_note(evaluation), cause, conditions_sentence(evaluation))
    return tuple(note for note in notes if note)


def _explanations(snapshot: Snapshot, evaluation: Evaluation) -> tuple[Part, ...]:
    """In an exercise the slip is for the person to find."""
    return (NOT_YET,) if snapshot.exercise_is_open else explanation_sentences(evaluation)


def _sentences(snapshot: Snapshot, evaluation: Evaluation) -> tuple[Part, ...]:
    then = said_then(snapshot)
    return (then, *_sentences_of_today(snapshot, evaluation)) if then else _sentences_of_today(snapshot, evaluation)


def _sentences_of_today(snapshot: Snapshot, evaluation: Evaluation) -> tuple[Part, ...]:
    if evaluation.verdict is Verdict.INCONSISTENT:
        return (headline(evaluation),)
    comparison = snapshot.records.comparison
    if snapshot.closed and comparison is not None:
        return (comparison.text, skew_sentence(evaluation))
    side_mm = part_side_mm(snapshot.machines.current)
    return skew_sentence(evaluation), part_sentence(evaluation.told_skew_deg, side_mm)


def row(characteristic: Characteristic, notation: Notation = AS_KEPT, *, stands: bool = True) -> Row:
    """One row of the table: the deviation from nominal for sizes and corners stands in the value itself."""
    shape = SHAPE_OF[characteristic.verdict] if stands else Shape.HALF_DIAMOND
    judged = characteristic.lower is not None and characteristic.upper is not None
    return Row(
        label=characteristic.label,
        value=_value(characteristic, notation),
        limits=_limits(characteristic),
        shape=shape if judged else Shape.RING,
    )


def _value(characteristic: Characteristic, notation: Notation) -> Part:
    """Value and U, without the unit: it stands with the limits."""
    value, expanded, signed = characteristic.value, characteristic.U95, characteristic.nominal == 0.0
    if characteristic.unit == "mm":
        return Length(value, u_mm=expanded, signed=signed, unit=False)
    # Minutes: the row has no room for seconds, and no angle is known to one.
    places = 2 if notation.angles is AngleStyle.DECIMAL else 1
    return Angle(value, places, u_deg=expanded, signed=signed, unit=False)


def _limits(characteristic: Characteristic) -> Part:
    lower, upper = characteristic.lower, characteristic.upper
    if lower is None or upper is None:
        return said("no limit")
    kind = Angle if characteristic.unit == "deg" else Length
    half, middle = (upper - lower) / 2, (upper + lower) / 2
    if abs(middle) < 1e-9:
        return said("± {limit}", limit=kind(half))
    return said("{middle} ± {limit}", middle=kind(middle, None, unit=False), limit=kind(half))

"""What the verdict screen says: headline, sentences and table rows as frozen values, worked out from a snapshot.

Stage: screen. Input: Snapshot. Output: VerdictPage. Units mm and degrees. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.features import Feature
from core.machine.correction_words import part_sentence, part_side_mm
from core.metrology.evaluation import Evaluation
from core.metrology.kerf import SizeCause
from core.metrology.sentences import explanation_sentences
from core.metrology.verdict import Characteristic, Verdict
from core.said import Part
from ui.pages.measure import SHAPE_OF
from ui.pages.practice import NOT_YET
from ui.pages.theme import Shape
from ui.pages.wording import (
    VERDICT_WORD,
    conditions_sentence,
    cross_check_note,
    headline,
    signed,
    size_cause,
    skew_sentence,
)
from ui.speech.notation import AS_KEPT, Notation
from ui.state.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One characteristic as a row of the table."""

    label: str
    value: str
    limits: str
    shape: Shape
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictPage:
    """The whole verdict screen; `next_feature` is where the button for the next reading leads, None when done.

    `notes` are what would pass unseen, what the sizes point to and what the verdict takes for granted. Contradictory
    readings have `explanations` in place of `rows` and notes.
    """

    shape: Shape
    word: str
    caption: str
    size_shape: Shape
    size_text: str
    sentences: tuple[Part | str, ...]
    notes: tuple[str, ...]
    explanations: tuple[str, ...]
    rows: tuple[Row, ...]
    count_text: str

    next_feature: Feature | None
    settled: bool


EMPTY = VerdictPage(
    shape=Shape.RING,
    word="NO VERDICT",
    caption="nothing has been read yet",
    size_shape=Shape.RING,
    size_text="Size: no verdict",
    sentences=("Measure the two diagonals first: they show best whether the coupon is square.",),
    notes=(),
    explanations=(),
    rows=(),
    count_text="no readings",
    next_feature=None,
    settled=False,
)


def verdict_page(snapshot: Snapshot) -> VerdictPage:
    """Everything the verdict screen shows."""
    evaluation = snapshot.evaluation
    if evaluation is None:
        return EMPTY
    asked = evaluation.next_reading
    contradictory = evaluation.verdict is Verdict.INCONSISTENT
    count = sum(reading.voided is None for reading in snapshot.readings)
    return VerdictPage(
        shape=SHAPE_OF[evaluation.verdict],
        word=VERDICT_WORD[evaluation.verdict],
        caption=_caption(evaluation),
        size_shape=SHAPE_OF[evaluation.size_verdict] if evaluation.size_judged else Shape.RING,
        size_text=f"Size: {VERDICT_WORD[evaluation.size_verdict] if evaluation.size_judged else 'not judged'}",
        sentences=_sentences(snapshot, evaluation),
        notes=() if contradictory else _notes(snapshot, evaluation),
        explanations=_explanations(snapshot, evaluation) if contradictory or evaluation.explanations else (),
        # No value of a contradictory best fit means anything: only what may be wrong with the readings does.
        rows=()
        if contradictory
        else tuple(row(item, snapshot.settings.notation) for item in evaluation.characteristics),
        count_text=f"{count} reading{'s' if count != 1 else ''}" + (", settled" if evaluation.settled else ""),
        next_feature=asked.feature if asked else None,
        settled=evaluation.settled,
    )


def _caption(evaluation: Evaluation) -> str:
    if evaluation.verdict is Verdict.INCONSISTENT:
        return "readings contradict each other"
    group = evaluation.verdict_of.value
    if evaluation.verdict is Verdict.GO:
        group = ", ".join(group.group.value for group in evaluation.asked)
    return group if evaluation.settled else f"{group}, not settled"


def _notes(snapshot: Snapshot, evaluation: Evaluation) -> tuple[str, ...]:
    """What the sizes point to has room here where a window tells it or the size is off; in an exercise it is for the
    person to say."""
    finding = evaluation.size_finding
    separated = finding is not None and finding.cause is SizeCause.SEPARATED
    told = (separated or evaluation.size_verdict is Verdict.NO_GO) and not snapshot.exercise_is_open
    cause = size_cause(evaluation) if told else ""
    return tuple(filter(None, (cross_check_note(evaluation), cause, conditions_sentence(evaluation))))


def _explanations(snapshot: Snapshot, evaluation: Evaluation) -> tuple[str, ...]:
    """In an exercise the slip is for the person to find."""
    return (NOT_YET,) if snapshot.exercise_is_open else explanation_sentences(evaluation)


def _sentences(snapshot: Snapshot, evaluation: Evaluation) -> tuple[Part | str, ...]:
    if evaluation.verdict is Verdict.INCONSISTENT:
        return (headline(evaluation),)
    comparison = snapshot.records.comparison
    if snapshot.closed and comparison is not None:
        return (comparison.text, skew_sentence(evaluation))
    side_mm = part_side_mm(snapshot.machines.current)
    return skew_sentence(evaluation), part_sentence(evaluation.adjustment.skew_deg, side_mm)


def row(characteristic: Characteristic, notation: Notation = AS_KEPT) -> Row:
    """One row of the table: the deviation from nominal for sizes and corners stands in the value itself."""
    judged = characteristic.lower is not None and characteristic.upper is not None
    return Row(
        label=characteristic.label,
        value=_value(characteristic, notation),
        limits=_limits(characteristic),
        shape=SHAPE_OF[characteristic.verdict] if judged else Shape.RING,
        word=VERDICT_WORD[characteristic.verdict] if judged else "information",
    )


def _value(characteristic: Characteristic, notation: Notation) -> str:
    """Value and U, without the unit: it stands with the limits."""
    expanded = characteristic.U95
    value = signed(characteristic.value, 2) if characteristic.nominal == 0.0 else f"{characteristic.value:.2f}"
    if characteristic.unit == "mm":
        return notation.sentence(f"{value} ± {expanded:.2f} mm").removesuffix(f" {notation.length_sign}")
    if notation.angle_sign:
        return notation.sentence(f"{value} ± {expanded:.2f}°").removesuffix("°")
    # Minutes: the row has no room for seconds, and no angle is known to one.
    return f"{notation.angle(characteristic.value, 1)} ± {notation.angle(expanded, 1)}"


def _limits(characteristic: Characteristic) -> str:
    unit = "°" if characteristic.unit == "deg" else f" {characteristic.unit}"
    if characteristic.lower is None or characteristic.upper is None:
        return "no limit"
    half = (characteristic.upper - characteristic.lower) / 2
    middle = (characteristic.upper + characteristic.lower) / 2
    return (f"± {half:.2f}" if abs(middle) < 1e-9 else f"{middle:g} ± {half:.2f}") + unit

"""The verdict as text for a terminal: what it is, why, what it means, what to do next; the numbers below.

Input: an evaluation, and what the correction amounts to when a span is known. Output: lines.
"""

from __future__ import annotations

from core.machine.correction_words import PART_SIDE_MM, part_sentence
from core.machine.gantry_correction import Correction, Refusal
from core.metrology.evaluation import Evaluation
from core.metrology.sentences import conditions_sentence, explanation_sentences, size_sentence
from core.metrology.verdict import Verdict
from core.said import Part, Said, Series, said
from ui.pages.wording import (
    VERDICT_WORD,
    characteristic_line,
    cross_check_note,
    headline,
    next_reading_sentence,
    signed,
    skew_sentence,
    worst_sentence,
)
from ui.speech.notation import AS_KEPT, Notation, value_text
from ui.terminal.indented import indented


def verdict_text(
    evaluation: Evaluation,
    correction: Correction | Refusal | None = None,
    side_mm: float = PART_SIDE_MM,
    notation: Notation = AS_KEPT,
) -> Part:
    """The whole report, line by line; `correction` None when no span is known, `side_mm` the side of the person's own
    part. Its tables are in `notation`."""
    lines: list[Part | str] = [f"{VERDICT_WORD[evaluation.verdict]}   {headline(evaluation)}"]
    if evaluation.verdict is Verdict.INCONSISTENT:
        # No value of a contradictory best fit means anything: only the readings and what may be wrong with them do.
        lines += [f"  {sentence}" for sentence in explanation_sentences(evaluation)]
    else:
        lines += [f"  {worst_sentence(evaluation)}"]
        lines += [
            f"  {skew_sentence(evaluation)}",
            indented(part_sentence(evaluation.adjustment.skew_deg, side_mm), "  "),
        ]
        notes = (size_sentence(evaluation), cross_check_note(evaluation), conditions_sentence(evaluation))
        lines += [f"  {sentence}" for sentence in notes if sentence]
        lines += ["", f"  {'best fit':<26}{'value ± U (95 %)':>22}   {'limits ' + evaluation.limits.source:<20}verdict"]
        lines += [f"  {characteristic_line(characteristic, notation)}" for characteristic in evaluation.characteristics]
    lines += ["", *_readings(evaluation, notation), "", f"  {next_reading_sentence(evaluation.next_reading)}"]
    if correction is not None:
        corrected = isinstance(correction, Correction)
        told = said("Correction: {what}", what=correction.text) if corrected else correction.text
        lines += ["", indented(told, "  ")]
    return Series(tuple(Said(line) if isinstance(line, str) else line for line in lines), joint="\n")


def _readings(evaluation: Evaluation, notation: Notation) -> list[str]:
    """What was read and how far the best fit lies from it."""
    rows = [f"  {'readings':<26}{'mean':>12}{'n':>7}{'best fit less mean':>20}"]
    for item in evaluation.adjustment.readings:
        unit = " mm" if item.feature.is_length else "°"
        residual = notation.sentence(f"{signed(item.residual, 3)}{unit}")
        mean = value_text(item.feature, item.value, notation)
        rows.append(f"  {item.feature.label!s:<26}{mean:>12}{item.count:>7}{residual:>20}")
    return rows

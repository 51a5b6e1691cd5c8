"""The verdict as text for a terminal: what it is, why, what it means, what to do next; the numbers below.

Input: an evaluation, and what the correction amounts to when a span is known. Output: lines.
"""

from collections.abc import Iterator

from core.machine import PART_SIDE_MM, Correction, Refusal, part_sentence
from core.metrology import (
    VERDICT_WORD,
    AdjustedReading,
    Characteristic,
    Evaluation,
    NextReason,
    Verdict,
    conditions_sentence,
    cross_check_note,
    explanation_sentences,
    headline,
    size_sentence,
    skew_sentence,
    told_word,
    worst_sentence,
)
from core.said import NOTHING, Angle, Column, Length, Name, Number, Part, Said, Series, said
from ui.terminal.indented import indented

_INSET = "  "


def verdict_text(
    evaluation: Evaluation, correction: Correction | Refusal | None = None, side_mm: float = PART_SIDE_MM
) -> Series:
    """The whole report, line by line; `correction` None when no span is known, `side_mm` the side of the person's own
    part."""
    word = Series((told_word(evaluation), headline(evaluation)), joint="   ")
    told: list[Part] = [
        word,
        *(indented(sentence, _INSET) for sentence in _sentences(evaluation, side_mm)),
        NOTHING,
        *_characteristics(evaluation),
        *_readings(evaluation),
        NOTHING,
        indented(_next(evaluation), _INSET),
    ]
    if correction is not None:
        what = correction.text
        if isinstance(correction, Correction):
            what = said("Correction: {what}", what=what)
        told += [NOTHING, indented(what, _INSET)]
    return Series(tuple(told), joint="\n")


def _sentences(evaluation: Evaluation, side_mm: float) -> Iterator[Part]:
    if evaluation.verdict is Verdict.INCONSISTENT:
        yield from explanation_sentences(evaluation)
        return
    yield worst_sentence(evaluation)
    yield skew_sentence(evaluation)
    part = part_sentence(evaluation.told_skew_deg, side_mm)
    notes = (part, size_sentence(evaluation), cross_check_note(evaluation), conditions_sentence(evaluation))
    yield from (note for note in notes if note)


def _characteristics(evaluation: Evaluation) -> Iterator[Part]:
    if evaluation.verdict is Verdict.INCONSISTENT:
        # No value of a contradictory best fit means anything: only the readings and what may be wrong with them do.
        return
    limits = said("limits {source}", source=evaluation.limits.whence)
    yield _row(said("best fit"), said("value ± U (95 %)"), limits, said("verdict"))
    yield from map(_characteristic, evaluation.characteristics)
    yield NOTHING


def _row(label: Part, value: Part, limits: Part, word: Part) -> Series:
    # 69 letters: a terminal of 80 columns has room for the longest word behind them.
    columns = (
        Column(indented(label, _INSET), 28),
        Column(value, 19, right=True),
        Name("  "),
        Column(limits, 20),
        word,
    )
    return Series(columns, joint="")


def _characteristic(item: Characteristic) -> Series:
    """Name, value ± U, limits, verdict."""
    value = Length(item.value, u_mm=item.U95) if item.unit == "mm" else Angle(item.value, u_deg=item.U95)
    if item.lower is None or item.upper is None:
        return _row(item.label, value, said("no limit"), said("information"))
    quantity = Length if item.unit == "mm" else Angle
    lower, upper = quantity(item.lower, unit=False), quantity(item.upper, unit=False)
    limits = said("{lower} to {upper}", lower=lower, upper=upper)
    return _row(item.label, value, limits, VERDICT_WORD[item.verdict])


def _readings(evaluation: Evaluation) -> Iterator[Series]:
    """What was read and how far the best fit lies from it."""
    yield _reading_row(said("readings"), said("mean"), Name("n"), said("best fit less mean"))
    yield from map(_reading, evaluation.adjustment.readings)


def _reading(item: AdjustedReading) -> Series:
    quantity = Length if item.feature.is_length else Angle
    mean, residual = quantity(item.value), quantity(item.residual, 3, signed=True)
    return _reading_row(item.feature.label, mean, Number(item.count), residual)


def _reading_row(label: Part, mean: Part, count: Part, residual: Part) -> Series:
    columns = (
        Column(indented(label, _INSET), 28),
        Column(mean, 12, True),
        Column(count, 5, True),
        Column(residual, 22, True),
    )
    return Series(columns, joint="")


def _next(evaluation: Evaluation) -> Said:
    """What to measure next and why; first what is wrong with all readings of a kind."""
    request = evaluation.next_reading
    if request is None:
        return evaluation.do_first or said("Nothing more to measure.")
    match request.reason:
        case NextReason.FIRST:
            return said("Next: {feature}.", feature=request.feature.label)
        case NextReason.AGAIN:
            return said(
                "Read the {feature} again, opened and closed anew: a misreading there could pass unseen.",
                feature=request.feature.label,
            )
        case NextReason.SUSPECT:
            return said("Read the {feature} again: it does not fit the others.", feature=request.feature.label)

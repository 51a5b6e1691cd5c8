"""Sentences for the person at the bench: pure functions of values, shared by screens, text bench and command line.

On screens the adjustment is called best fit. Numbers carry the sign that tells direction and as many digits as mean
something. Units: mm and degrees, written in the notation given, else as files have them.
"""

from __future__ import annotations

from core.metrology.adjustment import Estimate
from core.metrology.evaluation import NextReading, NextReason
from core.metrology.sentences import (
    VERDICT_WORD,
    conditions_sentence,
    cross_check_note,
    estimate_text,
    headline,
    plain,
    signed,
    size_cause,
    skew_sentence,
    worst_sentence,
)
from core.metrology.verdict import Characteristic
from core.said import Part, Said, lines
from ui.speech.notation import AS_KEPT, Notation, value_text

# Those that reports need as well live in core; here is every sentence of the bench in one place.
__all__ = [
    "TOO_EARLY",
    "VERDICT_WORD",
    "below",
    "characteristic_line",
    "conditions_sentence",
    "cross_check_note",
    "estimate_text",
    "headline",
    "next_reading_sentence",
    "signed",
    "size_cause",
    "skew_sentence",
    "value_text",
    "worst_sentence",
]

TOO_EARLY = "That touch came before this screen was up: it does not count."


def below(*texts: Part | str) -> Part:
    """One below the other; what says nothing is left out, and what is no value yet is said as it stands."""
    return lines(*(Said(text) if isinstance(text, str) else text for text in texts))


def next_reading_sentence(request: NextReading | None) -> str:
    """What to measure next and why."""
    if request is None:
        return "Nothing more to measure."
    match request.reason:
        case NextReason.FIRST:
            return f"Next: {request.feature.label}."
        case NextReason.AGAIN:
            return (
                f"Read the {request.feature.label} again, opened and closed anew: a misreading there could pass unseen."
            )
        case NextReason.SUSPECT:
            return f"Read the {request.feature.label} again: it does not fit the others."


def characteristic_line(characteristic: Characteristic, notation: Notation = AS_KEPT) -> str:
    """One row: name, value ± U, limits, verdict; for terminals and reports."""
    estimate = Estimate(value=characteristic.value, u=characteristic.u, nu=characteristic.nu)
    unit = " mm" if characteristic.unit == "mm" else " degrees"
    if characteristic.lower is None or characteristic.upper is None:
        limits, word = "no limit", "information"
    else:
        limits = f"{plain(characteristic.lower, 2)} to {plain(characteristic.upper, 2)}"
        limits = notation.sentence(limits + unit).removesuffix(f" {notation.length_sign}").removesuffix(" degrees")
        word = str(VERDICT_WORD[characteristic.verdict])
    value = notation.sentence(f"{plain(estimate.value, 2)} ± {estimate.U95:.2f}{unit}").replace(" degrees", " deg")
    return f"{characteristic.label!s:<26}{value:>22}   {limits:<20}{word}"

"""Sentences for the person at the bench: pure functions of values, shared by screens, text bench and command line.

On screens the adjustment is called best fit. Numbers carry the sign that tells direction and as many digits as mean
something. Units: mm and degrees, written in the notation given, else as files have them.
"""

from core.metrology.sentences import (
    VERDICT_WORD,
    conditions_sentence,
    cross_check_note,
    headline,
    signed,
    size_cause,
    skew_sentence,
    worst_sentence,
)
from core.said import said
from ui.speech.notation import value_text

# Those that reports need as well live in core; here is every sentence of the bench in one place.
__all__ = [
    "TOO_EARLY",
    "VERDICT_WORD",
    "conditions_sentence",
    "cross_check_note",
    "headline",
    "signed",
    "size_cause",
    "skew_sentence",
    "value_text",
    "worst_sentence",
]

TOO_EARLY = said("That touch came before this screen was up: it does not count.")

"""In which language a report is written: its code, and what says a sentence in it.

The catalogues themselves are the user interface's; core words everything in English.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from core.said import Part, worded

Sayable = Part | str


def _as_worded(what: Sayable) -> str:
    return what if isinstance(what, str) else worded(what)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportLanguage:
    """`code` as BCP 47 has it; `say` turns a sentence, a heading or a number as worded into the one that is printed."""

    code: str = "en"
    say: Callable[[Sayable], str] = _as_worded


ENGLISH = ReportLanguage()

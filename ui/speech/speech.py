"""How one person is spoken to: in their language, and in their notation of lengths and angles.

Stage: the last edge before terminal and paper. Input: English text worded in mm and degrees. Output: the same as it is
to be read. What programs read (CSV, JSON, exit statuses) never passes here.
"""

from __future__ import annotations

import textwrap
import unicodedata
from dataclasses import dataclass, replace

from core.records.report_language import ReportLanguage
from ui.speech.language import Language, said_in
from ui.speech.notation import AS_KEPT, Notation

LINE_WIDTH = 100
# Control and format characters, lone surrogates, and the two that end a line unasked (Unicode's general categories).
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech:
    """What the person chose; the default is how everything is worded inside the program."""

    language: Language = Language.ENGLISH
    notation: Notation = AS_KEPT

    def say(self, text: str) -> str:
        """The text as it is to be read, line by line; a name in it that would steer the terminal stands written out."""
        return _harmless(self.notation.sentence(said_in(self.language, text)))

    def lines(self, text: str) -> str:
        """The same for a terminal: a line longer than it holds goes on below its last column."""
        return "\n".join(_wrapped(line) for line in self.say(text).split("\n"))

    @property
    def on_paper(self) -> ReportLanguage:
        """For a report, whose tables are in millimetres and degrees whatever the screens show."""
        paper = replace(self, notation=Notation(mark=self.notation.mark))
        return ReportLanguage(code=self.language, say=paper.say)


AS_WORDED = Speech()


def _harmless(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(
        letter if letter in "\n\t" or unicodedata.category(letter) not in _STEERING else ascii(letter)[1:-1]
        for letter in text
    )


def _wrapped(line: str) -> str:
    if len(line) <= LINE_WIDTH:
        return line
    last_column = line.rfind("  ") + 2 if "  " in line.rstrip() else 0
    indent = " " * (last_column if last_column < LINE_WIDTH // 2 else len(line) - len(line.lstrip()))
    return "\n".join(
        textwrap.wrap(line, LINE_WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    )

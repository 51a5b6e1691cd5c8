"""The voice of one person: their language, units, decimal mark and time zone.

Stage: the last edge before screen, terminal and paper. Input: what was said, with its parts. Output: the text as it is
to be read; nothing reads it again. What programs read (CSV, JSON, exit statuses) never passes here.
Source: 1 inch is exactly 25.4 mm (ISO 31-1, annex); 1 degree is 60 minutes of 60 seconds (BIPM, SI brochure, table 8).
"""

from __future__ import annotations

import textwrap
import unicodedata
from datetime import tzinfo

from msgspec.structs import replace

from core.metrology import MM_PER_INCH
from core.said import (
    CLOCK_NOT_SET,
    Angle,
    Length,
    Part,
    Said,
    Size,
    Time,
    Voice,
    by_the_clock,
    time_on_the_wall,
    worded,
)
from ui.speech.language import Language, catalogue_of
from ui.speech.notation import (
    AS_KEPT,
    INCH_PLACES_MORE,
    AngleStyle,
    LengthUnit,
    Notation,
    degrees_minutes_seconds,
    set_in_type,
)

LINE_WIDTH = 100
# Control and format characters, lone surrogates, and the two that end a line unasked (Unicode's general categories).
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
NO_BREAK = "\u00a0"


class Speech(Voice, frozen=True, kw_only=True):
    """What the person chose; `zone` None is the computer's own. `names_zone` says it behind the time: on paper."""

    language: Language = Language.ENGLISH
    notation: Notation = AS_KEPT
    zone: tzinfo | None = None
    names_zone: bool = False

    def say(self, what: Part) -> str:
        """The text as it is to be read, line by line."""
        return worded(what, self)

    def as_set(self, text: str) -> str:
        """Figures that were set in the person's notation already, and what stands the same in every language."""
        return set_in_type(_harmless(text)) if self.within_value == NO_BREAK else _harmless(text)

    def lines(self, what: Part, width: int = LINE_WIDTH) -> str:
        """The same for a terminal: a line longer than its `width` in letters goes on below its last column."""
        return "\n".join(_wrapped(line, width) for line in self.say(what).split("\n"))

    @property
    def in_type(self) -> Speech:
        """For a screen, where lines are broken anywhere but between a number and its unit."""
        return replace(self, within_value=NO_BREAK)

    @property
    def on_paper(self) -> Speech:
        """For a report, whose tables are in millimetres and degrees whatever the screens show."""
        return replace(self, notation=Notation(mark=self.notation.mark), names_zone=True)

    def template(self, sentence: Said, context: str = "") -> str | None:
        """The message in the person's language, under `context` first; None where the catalogue lacks it."""
        if self.language is Language.ENGLISH:
            return Voice.template(self, sentence)
        catalogue = catalogue_of(self.language)
        for asked in (context, sentence.context) if context else (sentence.context,):
            if asked and sentence.plural:
                found = catalogue.npgettext(asked, sentence.message, sentence.plural, sentence.count)
            elif asked:
                found = catalogue.pgettext(asked, sentence.message)
            elif sentence.plural:
                found = catalogue.ngettext(sentence.message, sentence.plural, sentence.count)
            else:
                found = catalogue.gettext(sentence.message)
            if found:
                return found
        return None

    def in_english(self) -> Speech:
        """The same person without a catalogue: units, mark and zone stay."""
        return replace(self, language=Language.ENGLISH)

    def figures(self, value: float, decimals: int | None, signed: bool = False) -> str:
        """A number with a true minus and the person's decimal mark."""
        return self.notation.entry(Voice.figures(self, value, decimals, signed))

    def length(self, part: Length) -> str:
        """'−0.35 ± 0.06 mm', '−0.0138 ± 0.0024 in'; a nominal size in as many places as it needs, at most four."""
        if self.notation.lengths is LengthUnit.MM:
            return Voice.length(self, part)
        u = None if part.u_mm is None else part.u_mm / MM_PER_INCH
        if part.decimals is None:
            text = self._quantity(_nominal_inches(part.mm), None, u, part.signed)
        else:
            text = self._quantity(part.mm / MM_PER_INCH, part.decimals + INCH_PLACES_MORE, u, part.signed)
        return text + self._unit("in", part.unit)

    def angle(self, part: Angle) -> str:
        """'−0.35 ± 0.06°', '−0°21′00″ ± 0°03′36″'."""
        if self.notation.angles is AngleStyle.DECIMAL:
            return Voice.angle(self, part)
        text = degrees_minutes_seconds(part.deg, part.decimals, part.signed)
        if part.u_deg is None:
            return text
        return f"{text} ±{self.within_value}{degrees_minutes_seconds(part.u_deg, part.decimals)}"

    def size(self, part: Size) -> str:
        """'120 x 80 mm', '4.7244 x 3.1496 in'."""
        if self.notation.lengths is LengthUnit.MM:
            return Voice.size(self, part)
        width, height = (self.figures(_nominal_inches(mm), None) for mm in (part.width_mm, part.height_mm))
        return f"{width}{self.within_value}x{self.within_value}{height}{self._unit('in', True)}"

    def time(self, part: Time) -> str:
        """'2026-11-28 10:30' by the clock on the person's wall."""
        if part.at is None:
            return worded(CLOCK_NOT_SET, self)
        zone_sign = by_the_clock(part.at, self.zone).strftime(" %Z") if self.names_zone else ""
        return time_on_the_wall(part, self.zone, zone_sign)


def _nominal_inches(mm: float) -> float:
    """Of a size that was chosen, not measured: to a ten-thousandth."""
    return round(mm / MM_PER_INCH, 2 + INCH_PLACES_MORE)


def _harmless(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(
        letter if letter in "\n\t" or unicodedata.category(letter) not in _STEERING else ascii(letter)[1:-1]
        for letter in text
    )


def _wrapped(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    last_column = line.rfind("  ") + 2 if "  " in line.rstrip() else 0
    indent = " " * (last_column if last_column < width // 2 else len(line) - len(line.lstrip()))
    return "\n".join(
        textwrap.wrap(line, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    )


AS_WORDED = Speech()

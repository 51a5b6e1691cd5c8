"""The language of the bench: English sentences said in the person's language, at the same last edge as numbers.

Stage: the last edge before the screen. Input: an English text. Output: the same in the person's language, as far as
its catalogue reaches; what it does not know stays English. A `{}` in a catalogue's sentence stands for whatever is said
there, a number or a name that is itself looked up; `{1:dat}` in the translation is the second of them, looked up under
the context `dat` first (a case, a gender), and `{:name}` leaves it as it is. Source: GNU gettext message catalogues,
read by Python's gettext.
"""

from __future__ import annotations

import gettext
import re
from ast import literal_eval
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from string import Formatter

from core.errors import NotAvailableError
from core.said import Name, said

LOCALE = Path(__file__).parent / "locale"
SLOT = "{}"
AS_IT_IS = "name"
# Sentences said one after the other are looked up one by one, as are the columns of a table.
_BETWEEN_SENTENCES = re.compile(r"(?<=[.!?]) (?=[A-Z\d])")
_COLUMN = re.compile("([^ ]+(?: [^ ]+)*)( *)")
_NARROWEST_GAP = 2
# Numbers with their signs and units are written alike in every language.
_ALIKE = re.compile(r"[^a-zA-Z]*(?:mm|in)?")
REMEMBERED = 4096


class Language(StrEnum):
    """English needs no catalogue: it is what everything is worded in."""

    ENGLISH = "en"
    GERMAN = "de"


@lru_cache(maxsize=REMEMBERED)
def said_in(language: Language, text: str) -> str:
    """The text in this language."""
    return text if language is Language.ENGLISH else _Translation(language).text(text)


def left_in_english(language: Language, text: str) -> tuple[str, ...]:
    """The parts of the text that this language's catalogue does not know, names and numbers among them."""
    if language is Language.ENGLISH:
        return ()
    translation = _Translation(language)
    translation.text(text)
    return tuple(translation.unknown)


@dataclass(frozen=True, slots=True)
class _Translation:
    """One text being translated; `unknown` gathers what was not found."""

    language: Language
    unknown: list[str] = field(default_factory=list)

    def text(self, text: str) -> str:
        return "\n".join(self._line(line) for line in text.split("\n"))

    def _line(self, line: str) -> str:
        """A line, its columns beginning where they began as far as there is room."""
        return _COLUMN.sub(self._column, line)

    def _column(self, found: re.Match[str]) -> str:
        english, gap = found.groups()
        spoken = self._sentences(english)
        if not gap:
            return spoken
        narrowest = min(len(gap), _NARROWEST_GAP)
        return spoken + " " * max(narrowest, len(gap) + len(english) - len(spoken))

    def _sentences(self, english: str) -> str:
        if whole := catalogue_of(self.language).gettext(english):
            return whole
        return " ".join(self.sentence(sentence) for sentence in _BETWEEN_SENTENCES.split(english))

    def sentence(self, english: str, context: str = "") -> str:
        """The sentence from the catalogue, word for word or by one that has slots, else as it is."""
        if context == AS_IT_IS or _ALIKE.fullmatch(english):
            return english
        # What is a message in the middle of a sentence may begin one, and end it.
        begins_small = english[0].lower() + english[1:]
        for candidate in dict.fromkeys(
            (english, begins_small, english.removesuffix("."), begins_small.removesuffix("."))
        ):
            if (found := self._found(candidate, context)) is not None:
                found += "." * (len(english) - len(candidate))
                return found[:1].upper() + found[1:] if english[0].isupper() else found
        self.unknown.append(english)
        return english

    def _found(self, english: str, context: str) -> str | None:
        catalogue = catalogue_of(self.language)
        if context and (found := catalogue.pgettext(context, english)):
            return found
        if found := catalogue.gettext(english):
            return found
        bare = english.removesuffix(".")
        if bare != english and (found := catalogue.gettext(bare)):
            return f"{found}."
        for pattern in _patterns(self.language):
            if (parts := pattern.parts_of(english)) is not None:
                spoken = [_Part(self.sentence, part) for part in parts]
                template = catalogue.gettext(pattern.message) or catalogue.ngettext(pattern.message, "", 2)
                if not template:
                    continue
                return template.format(*spoken, **dict(zip(filter(None, pattern.names), spoken, strict=False)))
        return None


@dataclass(frozen=True, slots=True)
class _Part:
    """What stands in a slot; it is said in the case that the translation asks for."""

    said: Callable[[str, str], str]
    english: str

    def __format__(self, context: str) -> str:
        return self.said(self.english, context)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A message with slots. Its fixed pieces are looked for first, the longest before: that is far faster than the
    expression."""

    message: str
    names: tuple[str, ...]
    pieces: tuple[str, ...]
    expression: re.Pattern[str]

    def parts_of(self, sentence: str) -> tuple[str, ...] | None:
        for piece in self.pieces:
            if piece not in sentence:
                return None
        found = self.expression.fullmatch(sentence)
        return None if found is None else found.groups()


class _Unknown(gettext.NullTranslations):
    """Answers for what the catalogue does not have."""

    def gettext(self, message: str) -> str:
        """Nothing."""
        return ""

    def pgettext(self, context: str, message: str) -> str:
        """Nothing."""
        return ""

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """Nothing."""
        return ""

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        """Nothing."""
        return ""


@lru_cache
def catalogue_of(language: Language) -> gettext.NullTranslations:
    """What was translated, made by the package's build; raises NotAvailableError where it is missing. A message that
    is not in it is answered with nothing."""
    if language is Language.ENGLISH:
        return _Unknown()
    try:
        with (LOCALE / f"{language}.mo").open("rb") as file:
            catalogue = gettext.GNUTranslations(file)
    except (OSError, ValueError, UnicodeDecodeError) as exc:
        raise NotAvailableError(
            said("the catalogue {file} is missing or damaged: install the program anew", file=Name(f"{language}.mo"))
        ) from exc
    catalogue.add_fallback(_Unknown())
    return catalogue


@lru_cache
def _patterns(language: Language) -> tuple[_Pattern, ...]:
    """The messages with slots: those that only introduce another first, then the one that says most in words."""
    with (LOCALE / f"{language}.po").open(encoding="utf-8") as file:
        messages = [
            literal_eval(line.partition(" ")[2]) for line in file if line.startswith(('msgid "', "msgid_plural"))
        ]
    known = {message: _bare(message) for message in messages if "{" in message}
    ranked = sorted(
        known, key=lambda message: (not _introduces(known[message]), -len(known[message].replace(SLOT, "")))
    )
    return tuple(_pattern(message, known[message]) for message in ranked)


def _bare(message: str) -> str:
    return "".join(text + (SLOT if name is not None else "") for text, name, _, _ in Formatter().parse(message))


def _introduces(message: str) -> bool:
    """Such as 'Not stored: {}'."""
    return message.removesuffix(".").endswith(f": {SLOT}") and message.count(SLOT) == 1


def _pattern(message: str, bare: str) -> _Pattern:
    pieces = bare.split(SLOT)
    return _Pattern(
        message=message,
        names=tuple(name for _, name, _, _ in Formatter().parse(message) if name is not None),
        pieces=tuple(sorted(filter(None, pieces), key=len, reverse=True)),
        expression=re.compile("(.+?)".join(map(re.escape, pieces))),
    )

"""The language of the bench: English sentences said in the person's language, at the same last edge as numbers.

Stage: the last edge before the screen. Input: an English text. Output: the same in the person's language, as far as
its catalogue reaches; what it does not know stays English. A `{}` in a catalogue's sentence stands for whatever is said
there, a number or a name that is itself looked up. Source: GNU gettext message catalogues, read by Python's gettext.
"""

from __future__ import annotations

import gettext
import re
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

LOCALE = Path(__file__).parent / "locale"
SLOT = "{}"
# Sentences said one after the other are looked up one by one.
_BETWEEN_SENTENCES = re.compile(r"(?<=[.!?]) (?=[A-Z])")
REMEMBERED = 4096


class Language(StrEnum):
    """English needs no catalogue: it is what everything is worded in."""

    ENGLISH = "en"
    GERMAN = "de"


@lru_cache(maxsize=REMEMBERED)
def said_in(language: Language, text: str) -> str:
    """The text in this language."""
    if language is Language.ENGLISH or not any(letter.isalpha() for letter in text):
        return text
    return "\n".join(_line(language, line) for line in text.split("\n"))


def _line(language: Language, line: str) -> str:
    whole = _catalogue(language).gettext(line)
    if whole != line:
        return whole
    return " ".join(_sentence(language, sentence) for sentence in _BETWEEN_SENTENCES.split(line))


def _sentence(language: Language, sentence: str) -> str:
    """The sentence from the catalogue, word for word or by one that has slots, else as it is."""
    catalogue = _catalogue(language)
    found = catalogue.gettext(sentence)
    if found != sentence:
        return found
    for pattern, message in _patterns(language):
        if match := pattern.fullmatch(sentence):
            return catalogue.gettext(message).format(*(_sentence(language, part) for part in match.groups()))
    return sentence


@lru_cache
def _catalogue(language: Language) -> gettext.GNUTranslations:
    with (LOCALE / f"{language}.mo").open("rb") as file:
        return gettext.GNUTranslations(file)


@lru_cache
def _patterns(language: Language) -> tuple[tuple[re.Pattern[str], str], ...]:
    """The messages with slots, the one that says most in words first."""
    with (LOCALE / f"{language}.po").open(encoding="utf-8") as file:
        messages = [line[7:-2] for line in file if line.startswith('msgid "') and SLOT in line]
    ranked = sorted(messages, key=lambda message: -len(message.replace(SLOT, "")))
    return tuple((re.compile("(.+?)".join(map(re.escape, message.split(SLOT)))), message) for message in ranked)

"""What of a text a German reader would find in English: the parts that no message of the catalogue says.

What is the same in every language, or given by people (names, paths, what is typed at the text bench), is no English.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest

from core.said import Part, Said, Series
from ui.speech import speech
from ui.speech.language import Language, left_in_english
from ui.speech.speech import Speech

_GERMAN = Speech(language=Language.GERMAN)

_SAME = re.compile(
    r"""
    (?<![\w-])(?:
      [NF][LR](?:-[NF][LR])? | [XYUnN] | [A-H]\d+ | G\d+ | mm | in | Hz | kB | GB | deg | s
      | ISO\s2768-\w+ | USB | UTC | JCGM | English | Deutsch | SIMULATED
      | near | far | left | right                     # on a drawing, beside a number: said with it
      | (?:template[ -])?router(?:\s\d)? | Fräse(?:\s\d)? | plain\sstick | workshop | WORKSHOP | mine | Hans
      | \d{4}-\d\d-\d\d\S* | [0-9a-f]+-[0-9a-f]{4,}\S* | \S*/\S* | \S+\.(?:wav|csv|svg|dxf|json|pdf|sqlite) | ttyS\d+
      | \d+[a-zA-Z]?\d* | cornerwise(?:\s\S+)* | length-\S+ | angle-\S+
    )(?![\w-])
    """,
    re.VERBOSE,
)


# What can be chosen at the text bench, as it is typed.
# A Said among sentences that are texts yet is in German before they are.
_SAID_BEFORE = re.compile(r"Auf einer Seite von .* aus\.")
_CHOICES = re.compile(r" +set \w+ ")


def english_left(what: Part | str) -> list[str]:
    """The parts of what is said with words that German does not say."""
    match what:
        case str():
            return _of_text(what)
        case Said():
            missing = [] if not what.message or _GERMAN.template(what) is not None else _of_text(what.message)
            return [*missing, *(left for _, part in what.parts for left in english_left(part))]
        case Series():
            return [left for item in what.items for left in english_left(item)]
        case _:
            return []  # a quantity, or a name that somebody gave


def _of_text(text: str) -> list[str]:
    spoken = "\n".join(line for line in _SAID_BEFORE.sub("", text).split("\n") if not _CHOICES.match(line))
    left = left_in_english(Language.GERMAN, spoken)
    return [part for part in left if re.search(r"[A-Za-z]{2}", _SAME.sub("", part))]


@dataclass
class Heard:
    """What passed the last edge: finished texts, and messages that the catalogue lacks."""

    texts: set[str] = field(default_factory=set)
    missing: set[str] = field(default_factory=set)


def listening(monkeypatch: pytest.MonkeyPatch) -> Heard:
    """Hears everything that is said from now on."""
    heard, said_in, template = Heard(), speech.said_in, speech.Speech.template

    def keep(language: Language, text: str) -> str:
        heard.texts.add(text)
        return said_in(language, text)

    def look_up(voice: speech.Speech, sentence: Said, context: str = "") -> str | None:
        found = template(voice, sentence, context)
        if found is None:
            heard.missing.add(sentence.message)
        return found

    monkeypatch.setattr(speech, "said_in", keep)
    monkeypatch.setattr(speech.Speech, "template", look_up)
    return heard

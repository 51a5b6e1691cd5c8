"""What a German reader would find in English: messages that the catalogue lacks, and plain texts with words in them.

What is the same in every language, or given by people (names, paths, what is typed at the text bench), is no English.
"""

from __future__ import annotations

import re

import pytest
from msgspec import Struct, field

from core.said import PLAIN, Part, Said, Series, Voice, worded
from ui.speech import speech
from ui.speech.language import Language
from ui.speech.speech import Speech

_GERMAN = Speech(language=Language.GERMAN)

_SAME = re.compile(
    r"""
    (?<![\w-])(?:
      [NF][LR](?:-[NF][LR])? | [XYUnN] | [A-H]\d+ | G\d+ | mm | in | Hz | kB | GB | deg | s
      | ISO\s2768-\w+ | USB | UTC | JCGM | English | Deutsch | SIMULATED
      | \d{4}-\d\d-\d\d\S* | [0-9a-f]+-[0-9a-f]{4,}\S* | \S*/\S* | \S+\.(?:wav|csv|svg|dxf|json|pdf|sqlite) | ttyS\d+
      | \d+[a-zA-Z]?\d* | cornerwise(?:\s\S+)* | length-\S+ | angle-\S+
    )(?![\w-])
    """,
    re.VERBOSE,
)


def english_left(what: Part | str) -> list[str]:
    """The parts of what is said that German does not say."""
    match what:
        case str():
            return [what] if re.search(r"[A-Za-z]{2}", _SAME.sub("", what)) else []
        case Said():
            missing = [] if not what.message or _GERMAN.template(what) is not None else [what.message]
            return [*missing, *(left for _, part in what.parts for left in english_left(part))]
        case Series():
            return [left for item in what.items for left in english_left(item)]
        case _:
            return []  # a quantity, or a name that somebody gave


def everything_said(monkeypatch: pytest.MonkeyPatch) -> set[Part | str]:
    """Fills with everything that passes the last edge to the person, in whatever language, from now on."""
    texts: set[Part | str] = set()

    def keep_value(what: Part, voice: Voice = PLAIN) -> str:
        texts.add(what)
        return worded(what, voice)

    monkeypatch.setattr(speech, "worded", keep_value)
    return texts


def assert_nothing_left(texts: set[Part | str]) -> None:
    assert texts
    left = sorted({f"{part!r} in {str(text)!r}" for text in texts for part in english_left(text)})
    assert not left, "\n".join(left)


class Heard(Struct):
    """What passed the last edge: messages that the catalogue lacks."""

    missing: set[str] = field(default_factory=set)


def listening(monkeypatch: pytest.MonkeyPatch) -> Heard:
    """Hears everything that is said from now on."""
    heard, template = Heard(), speech.Speech.template

    def look_up(voice: speech.Speech, sentence: Said, context: str = "") -> str | None:
        found = template(voice, sentence, context)
        if found is None:
            heard.missing.add(sentence.message)
        return found

    monkeypatch.setattr(speech.Speech, "template", look_up)
    return heard

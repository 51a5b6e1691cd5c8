"""German: a whole catalogue, made into the file that is read, and screens that have room for it."""

from __future__ import annotations

import gettext
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from tests.ui.layout_checks import faults
from tests.ui.scenes import SCENES
from ui.coupon_draft import MATERIAL_CHOICES, PART_1_CLASSES, PART_2_CLASSES
from ui.language import LOCALE, SLOT, Language, said_in
from ui.limits_view import FIELD_WORDS, PAGE_TEXT, PAGE_WORDS
from ui.locale.make_catalogues import made
from ui.practice import FAULT_WORDS
from ui.screens.home import DOORS
from ui.screens.shell import SCREENS
from ui.settings import Settings
from ui.settings_view import QUESTIONS
from ui.wording import VERDICT_WORD

GERMAN = Settings(language=Language.GERMAN)
with (LOCALE / "de.po").open("rb") as catalogue:
    MESSAGES = {message.id: message.string for message in read_po(catalogue) if message.id}
# The same in both languages.
NO_WORDS = {"mm", "English", "Deutsch (in Teilen)"}


def fixed_texts() -> set[str]:
    """What stands on the screens word for word: layouts, headings, doors, questions, verdicts."""
    ui = Path(LOCALE).parent
    lines = [line for kv in ui.rglob("*.kv") for line in kv.read_text("utf-8").splitlines()]
    texts = {text for line in lines if re.match(r"\s*(?:text|name):", line) for text in re.findall(r"'([^']+)'", line)}
    texts -= set(SCREENS)  # a screen's own name is not shown
    texts |= {screen.heading for screen in SCREENS.values()} | {words for _name, words in DOORS}
    texts |= {question.title for question in QUESTIONS} | {words for q in QUESTIONS for _name, words in q.choices}
    texts |= {*VERDICT_WORD.values(), *FAULT_WORDS.values(), *FIELD_WORDS.values(), *PAGE_TEXT.values()}
    choices = (*PAGE_WORDS, *PART_1_CLASSES, *PART_2_CLASSES, *MATERIAL_CHOICES)
    texts |= {words for _name, words in choices}
    return {text for text in texts if re.search("[A-Za-z]{2}", text) and not re.search(r"\d", text)} - NO_WORDS


def test_everything_fixed_on_the_screens_is_in_the_catalogue() -> None:
    assert len(fixed_texts()) > 60
    assert fixed_texts() - set(MESSAGES) == set()


@pytest.mark.parametrize("text", MESSAGES)
def test_every_message_has_its_german(text: str) -> None:
    german = MESSAGES[text]
    assert german
    assert german.count(SLOT) == text.count(SLOT)


def test_the_file_that_is_read_is_made_of_the_one_that_is_written() -> None:
    """Message by message: the header names the version of the tool that made it."""
    kept = gettext.GNUTranslations(BytesIO((LOCALE / "de.mo").read_bytes()))
    fresh = gettext.GNUTranslations(BytesIO(made(LOCALE / "de.po")))
    assert {text: kept.gettext(text) for text in MESSAGES} == {text: fresh.gettext(text) for text in MESSAGES}


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Measure", "Messen"),
        ("Measure right edge", "rechte Kante messen"),
        (
            "Read the corner NL again: it does not fit the others.",
            "Ecke NL nochmals messen: passt nicht zu den anderen.",
        ),
        ("Machine: router. Square within the limits.", "Maschine: router. Rechtwinklig in den Grenzen."),
        ("Accepted: near edge 119.85 mm", "Angenommen: vordere Kante 119.85 mm"),
        (
            "own limits: square 0.40 mm, corner ± 0.30°, diagonals 0.50 mm, edges ± 0.25 mm.",
            "eigene Grenzen: Winkel 0.40 mm, Ecke ± 0.30°, Diagonalen 0.50 mm, Kanten ± 0.25 mm.",
        ),
        (
            "Sizes are brought to 20\u00a0°C, from acrylic at 27.5\u00a0°C.",
            "Maße gelten für 20\u00a0°C, umgerechnet von Acryl bei 27.5\u00a0°C.",
        ),
        ("A sentence nobody has put into German.", "A sentence nobody has put into German."),
        ("119.85", "119.85"),
    ],
)
def test_what_is_known_is_said_in_german(english: str, german: str) -> None:
    assert said_in(Language.GERMAN, english) == german
    assert said_in(Language.ENGLISH, english) == english


SHOWN = {
    "home": "no-go",
    "coupon": "terms",
    "limits": "terms",
    "measure": "edges",
    "keypad": "edges",
    "verdict": "no-go",
    "setup": "no-go",
    "practice": "practice-asked",
    "download": "stick-pulled",
    "design": "design-ready",
    "check": "first",
}


@pytest.mark.parametrize("name", SHOWN)
def test_german_fits(screen, name: str) -> None:
    screen.show(replace(SCENES[SHOWN[name]](), settings=GERMAN))
    screen.go(name)
    assert faults(screen) == []


def test_the_choice_holds_at_once(screen) -> None:
    screen.go("home")
    screen.show(replace(SCENES["no-go"](), settings=GERMAN))
    labels = [child._label.text for child in screen.app.root.screen.ids.doors.children]
    assert "Messen" in labels
    assert "Measure" not in labels

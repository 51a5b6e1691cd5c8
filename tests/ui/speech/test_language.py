"""German: a whole catalogue, made into the file that is read, and screens that have room for it."""

from __future__ import annotations

import gettext
import re
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.pofile import read_po

from core.said import CAPITAL, Said
from tests.ui.scenes import SCENES
from ui.bench.practice import FAULT_WORDS
from ui.pages.coupon import MATERIAL_CHOICES, PART_1_CLASSES, PART_2_CLASSES
from ui.pages.limits import FIELD_WORDS, PAGE_TEXT, PAGE_WORDS
from ui.pages.setup import QUESTIONS
from ui.pages.wording import VERDICT_WORD
from ui.speech.language import AS_IT_IS, LOCALE, SLOT, Language, said_in
from ui.speech.locale.catalogues import compiled
from ui.state.settings import Settings
from ui.touch.shell import SCREENS

GERMAN = Settings(language=Language.GERMAN)
with (LOCALE / "de.po").open("rb") as catalogue:
    MESSAGES = {(message.context or "", message.id): message.string for message in read_po(catalogue) if message.id}
ROOT = Path(LOCALE).parents[2]
SAID_IN = re.compile(r"""\bsaid_in\(\s*"([^"]+)",\s*\"""")
# The same in both languages.
NO_WORDS = {"mm", "English", "Deutsch"}


def fixed_texts() -> set[str]:
    """What stands on the screens word for word: layouts, headings, doors, questions, verdicts."""
    ui = Path(LOCALE).parent
    lines = [line for kv in ui.rglob("*.kv") for line in kv.read_text("utf-8").splitlines()]
    texts = {text for line in lines if re.match(r"\s*(?:text|name):", line) for text in re.findall(r"'([^']+)'", line)}
    texts -= set(SCREENS)  # a screen's own name is not shown
    texts |= {screen.heading for screen in SCREENS.values()} | {
        screen.door.words for screen in SCREENS.values() if screen.door
    }
    texts |= {question.title for question in QUESTIONS} | {words for q in QUESTIONS for _name, words in q.choices}
    texts |= {*map(str, VERDICT_WORD.values()), *FAULT_WORDS.values(), *FIELD_WORDS.values(), *PAGE_TEXT.values()}
    choices = (*PAGE_WORDS, *PART_1_CLASSES, *PART_2_CLASSES, *MATERIAL_CHOICES)
    texts |= {words for _name, words in choices}
    words = {text.message if isinstance(text, Said) else text for text in texts if isinstance(text, str | Said)}
    return {text for text in words if re.search("[A-Za-z]{2}", text) and not re.search(r"\d", text)} - NO_WORDS


def test_everything_fixed_on_the_screens_is_in_the_catalogue() -> None:
    assert len(fixed_texts()) > 60
    assert fixed_texts() - {text for _context, text in MESSAGES} == set()


class _Anything:
    def __format__(self, context: str) -> str:
        return context


# Messages of a Said have slots with names, and plurals: no braces of theirs are counted here.
BARE = {
    one: german
    for one, german in MESSAGES.items()
    if isinstance(german, str) and not re.search(r"\{[a-z_]+[:}]", one[1])
}


def slots_said(german: str, slots: int) -> list[int]:
    """The English slots that a German sentence says, in its order."""
    said = [name for _, name, _, _ in Formatter().parse(german) if name is not None]
    german.format(*(_Anything() for _ in range(slots)))  # no mixture of numbered and other slots, none too many
    return [int(name) if name else place for place, name in enumerate(said)]


def test_every_message_has_its_german() -> None:
    for (_context, text), german in BARE.items():
        assert german, text
        slots = text.count(SLOT)
        # A sentence without a slot is never formatted: its braces would be read as they stand.
        assert sorted(slots_said(german, slots)) == [*range(slots)] if slots else "{" not in german, text


def test_every_context_is_asked_for() -> None:
    asked = {asks for german in BARE.values() for _, _, asks, _ in Formatter().parse(german) if asks}
    # core/said.py itself shows only how it is used.
    sources = [path for room in ("core", "firmware_bridge", "hardware", "ui") for path in (ROOT / room).rglob("*.py")]
    asked |= {
        context
        for path in sources
        if path.name != "said.py"
        for context in SAID_IN.findall(path.read_text(encoding="utf-8"))
    }
    assert asked - {AS_IT_IS, CAPITAL} == {context for context, _text in BARE if context}


def test_the_file_that_is_read_is_made_of_the_one_that_is_written() -> None:
    """Message by message: the header names the version of the tool that made it."""
    kept = gettext.GNUTranslations(BytesIO((LOCALE / "de.mo").read_bytes()))
    fresh = gettext.GNUTranslations(BytesIO(compiled(LOCALE / "de.po")))
    assert [kept.pgettext(*one) if one[0] else kept.gettext(one[1]) for one in MESSAGES] == [
        fresh.pgettext(*one) if one[0] else fresh.gettext(one[1]) for one in MESSAGES
    ]


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Measure", "Messen"),
        ("Measure right edge", "Rechte Kante messen"),
        # Cases and endings: nominative, accusative, dative, genitive.
        ("The right end: 0.97 mm farther from you.", "Das rechte Ende: 0.97 mm von sich weg."),
        ("Read the gap at the far end.", "Den Spalt am hinteren Ende messen."),
        (
            "Standing at the front, move the right end of the rails by 3.20 ± 0.30 mm to the left.",
            "Von vorn gesehen das rechte Ende der Schienen um 3.20 ± 0.30 mm nach links verschieben.",
        ),
        (
            "A gap is the distance from a fixed reference on the near side to the gantry.",
            "Ein Spalt ist der Abstand von einer festen Anlage auf der vorderen Seite zu dem Portal.",
        ),
        # Another order than in English; a sentence within a sentence; a list; columns of a table.
        (
            "144.35 mm looks like the diagonal NL-FR, not the near edge.",
            "144.35 mm sieht nach Diagonale NL-FR aus, nicht nach vorderer Kante.",
        ),
        (
            "Not stored: settings.json: writing is refused here; nothing was written",
            "Nicht gespeichert: settings.json: Schreiben wird hier verweigert; nichts wurde geschrieben",
        ),
        ("Near edge and corner NL look exchanged.", "Vordere Kante und Ecke NL scheinen vertauscht."),
        ("  near edge           119.85 mm       GO", "  vordere Kante       119.85 mm       GUT"),
        (
            "Read the corner NL again: it does not fit the others.",
            "Ecke NL nochmals messen: passt nicht zu den anderen.",
        ),
        ("Machine: router. Square within the limits.", "Maschine: router. Rechtwinklig in den Grenzen."),
        ("Accepted: near edge 119.85 mm", "Angenommen: vordere Kante 119.85 mm"),
        (
            "own limits: squareness 0.40 mm, corner ± 0.30°, diagonals 0.50 mm, edges ± 0.25 mm.",
            "eigene Grenzen: Rechtwinkligkeit 0.40 mm, Ecke ± 0.30°, Diagonalen 0.50 mm, Kanten ± 0.25 mm.",
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


def test_the_choice_holds_at_once(screen) -> None:
    screen.go("menu")
    screen.show(replace(SCENES["no-go"](), settings=GERMAN))
    labels = [child._label.text for child in screen.app.root.screen.walk() if hasattr(child, "_label")]
    assert "Urteil" in labels
    assert "Verdict" not in labels


def test_no_entry_is_torn() -> None:
    """Two branches that change one entry leave two translations, which are read as one long one."""
    lines = (LOCALE / "de.po").read_text(encoding="utf-8").splitlines()
    torn = [two for one, two in pairwise(lines) if one.startswith('msgstr "') and two.startswith('msgstr "')]
    assert not torn

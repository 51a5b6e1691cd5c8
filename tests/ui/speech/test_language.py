"""German: a whole catalogue, made into the file that is read, and screens that have room for it."""

from __future__ import annotations

import gettext
import re
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from string import Formatter

from babel.messages.pofile import read_po
from msgspec.structs import replace

from core.metrology.sentences import VERDICT_WORD
from core.said import CAPITAL, Said
from tests.ui.scenes import SCENES
from ui.bench.practice import FAULT_WORDS
from ui.pages.coupon import MATERIAL_CHOICES, PART_1_CLASSES, PART_2_CLASSES
from ui.pages.limits import FIELD_WORDS, PAGE_TEXT, PAGE_WORDS
from ui.pages.setup import QUESTIONS
from ui.speech.language import LOCALE, Language
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


def slots(template: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


def forms(message: str | tuple[str, ...]) -> tuple[str, ...]:
    return (message,) if isinstance(message, str) else tuple(message)


def test_every_message_has_its_german() -> None:
    for (_context, message), german in MESSAGES.items():
        assert all(forms(german)), message
        asked = set().union(*map(slots, forms(message)))
        assert set().union(*map(slots, forms(german))) <= asked, message


def test_every_context_is_asked_for() -> None:
    asked = {
        asks
        for german in MESSAGES.values()
        for form in forms(german)
        for _, _, asks, _ in Formatter().parse(form)
        if asks
    }
    # core/said.py itself shows only how it is used.
    sources = [path for room in ("core", "firmware_bridge", "hardware", "ui") for path in (ROOT / room).rglob("*.py")]
    asked |= {
        context
        for path in sources
        if path.name != "said.py"
        for context in SAID_IN.findall(path.read_text(encoding="utf-8"))
    }
    assert asked - {CAPITAL} == {context for context, _text in MESSAGES if context}


def test_the_file_that_is_read_is_made_of_the_one_that_is_written() -> None:
    """Message by message: the header names the version of the tool that made it."""
    kept = gettext.GNUTranslations(BytesIO((LOCALE / "de.mo").read_bytes()))
    fresh = gettext.GNUTranslations(BytesIO(compiled(LOCALE / "de.po")))
    assert [kept.pgettext(*one) if one[0] else kept.gettext(one[1]) for one in MESSAGES] == [
        fresh.pgettext(*one) if one[0] else fresh.gettext(one[1]) for one in MESSAGES
    ]


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

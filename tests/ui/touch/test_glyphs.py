"""Every character of every sentence, English and German, is in the fonts that draw it: on the screen and on paper."""

from __future__ import annotations

from pathlib import Path

import kivy
import pytest
from babel.messages.pofile import read_po
from fontTools.ttLib import TTFont

import core.records
import ui.speech.locale

SCREEN = Path(kivy.kivy_data_dir) / "fonts"
PAPER = Path(core.records.__path__[0]) / "fonts"
FONTS = [*(SCREEN / f"Roboto-{cut}.ttf" for cut in ("Regular", "Bold")), *sorted(PAPER.glob("*.ttf"))]


def said() -> set[str]:
    """Every character of both languages, from the catalogue that is extracted from the source."""
    with (Path(ui.speech.locale.__path__[0]) / "de.po").open("rb") as file:
        catalogue = read_po(file, locale="de")
    texts = []
    for message in catalogue:
        for text in (message.id, message.string):
            texts += [text] if isinstance(text, str) else list(text)
    # What quantities are worded with, the marks of notations, of nothing and of a name cut short.
    return {letter for text in (*texts, "−±°′″×,.0123456789\u00a0µ²–…") for letter in text if letter not in "\n\t"}


@pytest.mark.parametrize("font", FONTS, ids=lambda path: path.name)
def test_no_character_is_an_empty_box(font: Path) -> None:
    drawn = set(map(chr, TTFont(font).getBestCmap()))
    assert {letter: hex(ord(letter)) for letter in said() - drawn} == {}


def test_both_places_have_their_fonts() -> None:
    assert len(FONTS) >= 4
    assert all(font.is_file() for font in FONTS)

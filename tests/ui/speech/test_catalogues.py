"""The catalogues hold what the source says: whoever adds a sentence is told of its German at once."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from ui.speech.locale import catalogues
from ui.speech.locale.catalogues import FOLDER, updated


@cache
def extracted() -> Catalog:
    """What the source says, read once for all tests here."""
    return catalogues.extracted()


@pytest.mark.parametrize("catalogue", sorted(FOLDER.glob("*.po")), ids=lambda path: path.stem)
def test_nothing_that_is_said_is_missing(catalogue: Path) -> None:
    with catalogue.open("rb") as file:
        known = read_po(file, abort_invalid=True)

    def is_said(message: str | tuple[str, ...], context: str | None) -> bool:
        one = known.get(message if isinstance(message, str) else message[0], context)
        return one is not None and all([one.string] if isinstance(one.string, str) else one.string)

    assert [one.id for one in extracted() if one.id and not is_said(one.id, one.context)] == []


@pytest.mark.parametrize("catalogue", sorted(FOLDER.glob("*.po")), ids=lambda path: path.stem)
def test_nothing_is_kept_that_nothing_says(catalogue: Path) -> None:
    with catalogue.open("rb") as file:
        kept = {(one.id, one.context, one.string) for one in read_po(file) if one.id}

    assert kept == {(one.id, one.context, one.string) for one in updated(catalogue, extracted()) if one.id}


def test_the_forms_that_a_translation_asks_for_stay(tmp_path: Path) -> None:
    catalogue = tmp_path / "de.po"
    entries = [("at the {end}", "am {end:dat} Ende", None), ("left", "links", None), ("left", "linken", "dat")]
    gone = [("left", "linke", "adj"), ("no more", "nicht mehr", "dat")]
    with catalogue.open("w", encoding="utf-8") as file:
        for message, translation, context in (*entries, *gone):
            file.write(f'msgctxt "{context}"\n' if context else "")
            file.write(f'msgid "{message}"\nmsgstr "{translation}"\n\n')
    source = Catalog()
    for message in ("at the {end}", "left"):
        source.add(message)

    found = [(one.id, one.string, one.context) for one in updated(catalogue, source) if one.id]

    assert sorted(found, key=str) == sorted(entries, key=str)


def test_what_the_readme_sets_in_italics_is_on_a_screen() -> None:
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    named = {" ".join(name.split()) for name in re.findall(r"(?<![*\w])\*([A-Z][^*]{1,40})\*(?![*\w])", readme)}
    messages = tuple(text for one in extracted() for text in ([one.id] if isinstance(one.id, str) else one.id))
    other_language = {"Deutsch"}

    assert "Look at the stick" in named
    begun = {name: name.removesuffix("...") for name in named - other_language}
    assert [name for name, beginning in begun.items() if not any(text.startswith(beginning) for text in messages)] == []

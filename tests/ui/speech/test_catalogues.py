"""The catalogues hold what the source says: whoever adds a sentence is told of its German at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from ui.speech.locale.catalogues import FOLDER, extracted


@pytest.mark.parametrize("catalogue", sorted(FOLDER.glob("*.po")), ids=lambda path: path.stem)
def test_nothing_that_is_said_is_missing(catalogue: Path) -> None:
    with catalogue.open("rb") as file:
        known = read_po(file, abort_invalid=True)

    def is_said(message: str | tuple[str, ...], context: str | None) -> bool:
        one = known.get(message if isinstance(message, str) else message[0], context)
        return one is not None and all([one.string] if isinstance(one.string, str) else one.string)

    assert [one.id for one in extracted() if one.id and not is_said(one.id, one.context)] == []

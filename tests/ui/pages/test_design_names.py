"""A file that a person named is listed as it is called, whatever the units and the language."""

from __future__ import annotations

import pytest

from core.said import Name
from ui.pages import design
from ui.speech.language import Language
from ui.speech.notation import LengthUnit, Notation
from ui.speech.speech import Speech
from ui.state.stick import DesignSource


@pytest.mark.parametrize("file", ["plate 3 mm.dxf", "Left.svg"])
def test_a_file_keeps_its_name(file: str) -> None:
    inches = Speech(language=Language.GERMAN, notation=Notation(lengths=LengthUnit.INCH))
    shown = design._label(DesignSource(path=file))
    assert isinstance(shown, Name)
    assert inches.say(shown) == file

"""The text bench says what a person gave letter for letter, in every language."""

from __future__ import annotations

import io

import pytest
from msgspec.structs import replace

from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.terminal.text_bench import TextBench


@pytest.mark.parametrize("machine", ["Left", "near edge", "plate 3 mm"])
def test_a_machine_keeps_its_name_in_german(machine: str) -> None:
    german = replace(SCENES["edges"](), settings=Settings(language=Language.GERMAN), machine=machine)
    out = io.StringIO()
    TextBench(StandInBench(german), out, columns=None)._print_opening(german)
    assert f"Probestück 120 x 80 mm auf {machine}, Grenzen" in out.getvalue()

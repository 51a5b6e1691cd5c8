"""Every screen in every state, and on every panel: what tests/ui/touch holds on three panels and in chosen states.

.venv/bin/pytest tests/endurance/screens
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from tests.ui.english_left import assert_nothing_left, everything_said
from tests.ui.scenes import SCENES
from tests.ui.touch import (
    test_german_fits as german,
    test_help as helped,
    test_layout as layout,
    test_notation_on_screens as notations,
)
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.touch.shell import SCREENS

PANELS = ((480, 320), (1024, 600), (1280, 720), (720, 1280))
ON_EACH = pytest.mark.parametrize("size", PANELS, ids=lambda size: "x".join(map(str, size)))


@ON_EACH
def test_one_state_of_every_screen(screen, size: tuple[int, int]) -> None:
    with screen.resized(size):
        assert layout.faults_elsewhere(screen) == []


@ON_EACH
def test_what_comes_up_when_something_is_touched(screen, size: tuple[int, int]) -> None:
    with screen.resized(size):
        assert layout.faults_when_touched(screen) == []


@pytest.mark.parametrize("name", layout.MEASURING)
def test_every_state_of_measuring(screen, name: str) -> None:
    assert [fault for scene in layout.ON_MEASURE for fault in layout.faults_of(screen, scene, name)] == []


@ON_EACH
@pytest.mark.parametrize("notation", german.NOTATIONS, ids=["comma", "longest"])
def test_german(screen, size: tuple[int, int], notation) -> None:
    with screen.resized(size):
        assert german.faults_elsewhere(screen, notation) == []


@ON_EACH
def test_help(screen, size: tuple[int, int]) -> None:
    with screen.resized(size):
        assert helped.faults_of_help(screen) == []


@pytest.mark.parametrize("name", SCREENS)
def test_no_state_of_a_screen_is_left_in_english(screen, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    heard = everything_said(monkeypatch)
    for scene in SCENES:
        screen.show_on(name, replace(SCENES[scene](), settings=Settings(language=Language.GERMAN)))
        heard |= german.words_in_sight(screen)
    assert_nothing_left(heard)


@pytest.mark.parametrize("name", SCREENS)
def test_no_state_of_a_screen_is_left_in_another_notation(screen, lettered: list[str], name: str) -> None:
    assert notations.left_on(screen, lettered, name, SCENES) == []

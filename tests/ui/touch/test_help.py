"""`?` on every screen: one drawing, three lines, every panel, both languages; the screen below stays as it was."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from tests.ui.layout_checks import faults, faults_of_place
from tests.ui.scenes import SCENES
from tests.ui.touch.test_layout import SIZES
from tests.ui.touching import shown_widgets, tap_text
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.state.settings import Settings

MOST_WORDS = 40  # of a screen


def help_shown(screen) -> list[str]:
    return [str(sentence) for sentence in screen.app.root._help.sentences] if screen.app.root.helping else []


def test_every_screen_has_one_drawing_and_three_lines(looked_at) -> None:
    from ui.touch.screen import SCREENS

    for name, kind in SCREENS.items():
        assert kind.help.picture, name
        for speech in (Speech(), Speech(language=Language.GERMAN)):
            assert sum(len(speech.say(sentence).split()) for sentence in kind.help.sentences) <= MOST_WORDS, name


def faults_of_help(screen) -> list[str]:
    from ui.touch.screen import SCREENS

    found = []
    screen.show(replace(SCENES["to-correct"](), settings=Settings(language=Language.GERMAN)))
    for name in SCREENS:
        screen.go(name)
        screen.app.root.open_help()
        screen.frames()
        found += [f"{name}: {fault}" for fault in faults_of_place(screen)]
        screen.app.root.close_help()
    return found


@pytest.mark.parametrize("language", Language)
def test_all_of_it_can_be_read(looked_at, language: Language) -> None:
    from ui.touch.screen import SCREENS

    found = []
    for name in SCREENS:
        looked_at.show(replace(SCENES["to-correct"](), settings=Settings(language=language)))
        looked_at.go(name)
        tap_text(looked_at, "?")
        assert looked_at.app.root.helping, name
        found += [f"{name}: {fault}" for fault in faults(looked_at)]
        tap_text(looked_at, "?")
    assert found == []


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_all_of_it_can_be_read_on_other_panels(looked_at, size: tuple[int, int]) -> None:
    with looked_at.resized(size):
        assert faults_of_help(looked_at) == []


def test_a_touch_anywhere_takes_it_away_and_what_was_typed_is_still_there(screen) -> None:
    screen.show(SCENES["gaps-without-cable"]())
    screen.go("correct")
    for key in "12.4":
        tap_text(screen, key)
    tap_text(screen, "?")
    assert help_shown(screen) == [str(sentence) for sentence in screen.app.root.screen.help.sentences]
    assert not [widget for widget in shown_widgets(screen) if getattr(widget, "text", "") == "7"], "no key below it"
    tap_text(screen, help_shown(screen)[0])
    assert not screen.app.root.helping
    assert screen.app.root.screen.gap_text == "12.4"


def test_back_takes_it_away_and_another_screen_as_well(screen) -> None:
    screen.go("causes")
    tap_text(screen, "?")
    tap_text(screen, "< Back")
    assert (screen.app.root.helping, screen.app.root.screen.name) == (False, "causes")
    tap_text(screen, "?")
    tap_text(screen, "Bench")
    assert (screen.app.root.helping, screen.app.root.screen.name) == (False, "bench")

"""Home: the one next step for every stage of the job, and doors that open."""

from __future__ import annotations

import pytest

from tests.ui.scenes import SCENES
from tests.ui.touching import tap_text
from ui.pages.home import home_page, next_step
from ui.touch.shell import SCREENS


@pytest.mark.parametrize(
    ("scene", "words", "screen_name"),
    [
        ("empty", "Measure a coupon", "coupon"),
        ("edges", "Go on measuring", "measure"),
        ("no-go", "Correct the machine", "correct"),
        ("go", "See the verdict", "verdict"),
        ("loosen", "Go on correcting the machine", "correct"),
    ],
)
def test_the_next_step(scene: str, words: str, screen_name: str) -> None:
    assert next_step(SCENES[scene]()) == (words, screen_name)


def test_the_story_names_the_machine_and_what_is_lost() -> None:
    assert "template router" in str(home_page(SCENES["lost"]()).story)
    assert "Lost: calipers." in str(home_page(SCENES["lost"]()).story)


@pytest.mark.parametrize(
    ("name", "words"),
    [(name, screen.door.words) for name, screen in SCREENS.items() if screen.door and name != "practice"],
)
def test_every_door_opens_and_back_leads_home(screen, name: str, words: str) -> None:
    screen.go("home")
    tap_text(screen, words)
    assert screen.app.root.screen.name == name
    for _step in range(3):
        if screen.app.root.screen.name != "home":
            tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "home"

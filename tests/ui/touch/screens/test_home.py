"""Home: the one next step for every stage of the job; the menu, and the ways back."""

from __future__ import annotations

import pytest

from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, tap_text
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
def test_every_door_of_the_menu_opens_and_back_leads_back(screen, name: str, words: str) -> None:
    tap_text(screen, "Menu")
    tap_text(screen, words)
    assert screen.app.root.screen.name == name
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "menu"
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "home"


def test_back_goes_back_to_where_one_came_from(screen) -> None:
    screen.show(SCENES["to-correct"]())
    for name in ("menu", "causes", "design"):
        screen.go(name)
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "causes"
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "menu"


def test_going_where_one_came_from_is_going_back(screen) -> None:
    for name in ("measure", "keypad", "measure"):
        screen.go(name)
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "home"


@pytest.mark.parametrize("name", sorted(set(SCREENS) - {"home"}))
def test_the_bench_is_one_touch_away(screen, name: str) -> None:
    screen.show(SCENES["no-go"]())
    screen.go(name)
    tap_text(screen, "Bench")
    assert screen.app.root.screen.name == "home"
    assert find_text(screen, "< Back").disabled

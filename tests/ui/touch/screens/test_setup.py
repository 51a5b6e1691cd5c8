"""Setup and sleep: what is chosen is kept, switching off is asked first, a touch in the dark presses nothing."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from msgspec.structs import replace

from core.said import NOTHING, worded
from tests.patience import WAIT_S
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES, snapshot
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import find_text, tap_text
from ui.pages.setup import QUESTIONS
from ui.pages.theme import DARK, LIGHT
from ui.state.settings import Settings


def test_what_is_chosen_holds_at_once_on_every_screen() -> None:
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        screen.go("setup")
        tap_text(screen, "Dark")
        assert screen.app.palette is DARK
        tap_text(screen, "Inches")
        tap_text(screen, "Comma")
        screen.go("bench")
        assert screen.app.speech.say(screen.app.root.screen._live.high) == "+0,0131\u00a0in"
        tap_text(screen, "Type")
        assert find_text(screen, ",").disabled is False
        screen.go("setup")
        tap_text(screen, "Light")
        assert screen.app.palette is LIGHT


def test_every_question_can_be_answered_by_touch() -> None:
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        screen.go("setup")
        for question in QUESTIONS:
            if question.name == "rotation":  # a turned window is a test of its own
                continue
            for _name, words in reversed(question.choices):
                tap_text(screen, worded(words))
        assert screen.bench.snapshot.settings == replace(Settings(), sleep_min=0)
        assert len(screen.bench.sent) == sum(len(q.choices) for q in QUESTIONS if q.name != "rotation")


def test_switching_off_is_asked_first() -> None:
    """And the screen goes on while the machine takes its time to answer."""
    asked: list[str] = []
    answers = threading.Event()

    def switch_off() -> str:
        asked.append("off")
        assert answers.wait(WAIT_S)
        return "Switching off."

    with Offscreen(StandInBench(SCENES["first"]()), switch_off=switch_off) as screen:
        screen.go("setup")
        tap_text(screen, "Switch off")
        tap_text(screen, "Stay on")
        assert asked == []
        tap_text(screen, "Switch off")
        tap_text(screen, "Switch off")
        assert str(screen.app.root.screen.text) == "Asking the machine to switch off."
        answers.set()
        screen.frames_until(lambda: str(screen.app.root.screen.text) == "Switching off.")
        assert asked == ["off"]


def test_where_it_was_asked_to_switch_off_nothing_does() -> None:
    """The two overlapped by 2 to 9 px: with its sentence the row was divided otherwise."""
    given = {"switch_off": lambda: NOTHING, "set_clock": lambda _time: NOTHING}
    with Offscreen(StandInBench(SCENES["first"]()), **given) as screen:
        screen.go("setup")
        asks = find_text(screen, "Switch off")
        asked_from_px = asks.to_window(asks.x, asks.y)[0]
        tap_text(screen, "Switch off")
        off = find_text(screen, "Switch off")
        assert off.to_window(off.right, off.y)[0] < asked_from_px


@pytest.fixture
def sleepy() -> Iterator[Offscreen]:
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        screen.app._sleep.after(0.3)
        screen.go("bench")
        screen.frames_until(lambda: screen.app._sleep.is_asleep)
        # Else a busy machine goes dark again before it is looked at.
        screen.app._sleep.after(None)
        yield screen


def test_a_touch_in_the_dark_only_wakes(sleepy: Offscreen) -> None:
    assert sleepy.pixels().max() == 0
    place = sleepy.app.root.screen.ids.figure.center
    sleepy.tap(*place)
    assert sleepy.bench.sent == []
    assert sleepy.pixels().max() > 200


def test_news_wakes_the_panel(sleepy: Offscreen) -> None:
    sleepy.show(snapshot(length_value=120.0))
    assert sleepy.pixels().max() > 200

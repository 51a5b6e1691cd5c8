"""Fingers faster than the panel: no touch presses what could not be seen, none that was seen is lost."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from kivy.base import EventLoop
from kivy.input.motionevent import MotionEvent
from kivy.tests.common import UnitTestTouch

from tests.ui.scenes import SCENES
from tests.ui.touching import find_text
from ui.pages.wording import TOO_EARLY


class QueuedPanel:
    """An input provider as libmtdev's is: taps queue up beside the program and all arrive in its next frame."""

    def __init__(self) -> None:
        self._queue: list[tuple[str, MotionEvent]] = []

    def tap(self, place: tuple[float, float]) -> None:
        touch = UnitTestTouch(*place)
        self._queue += [("begin", touch), ("end", touch)]

    def update(self, dispatch_fn) -> None:
        while self._queue:
            dispatch_fn(*self._queue.pop(0))


@pytest.fixture
def panel() -> Iterator[QueuedPanel]:
    queued = QueuedPanel()
    EventLoop.add_input_provider(queued)
    yield queued
    EventLoop.remove_input_provider(queued)


def middle(screen, words: str) -> tuple[float, float]:
    widget = find_text(screen, words)
    return widget.to_window(*widget.center)


@pytest.fixture
def places(screen) -> dict[str, tuple[float, float]]:
    """Where things stand on screens that have all been up once; home is in sight again."""
    screen.go("measure")
    places = {"Type": middle(screen, "Type")}
    screen.go("keypad")
    places |= {words: middle(screen, words) for words in ("1", "4")}
    screen.go("home")
    return places | {"Measure": middle(screen, "Measure")}


def test_taps_of_one_stalled_frame_press_only_what_stood_there(screen, panel, places) -> None:
    panel.tap(places["Measure"])
    panel.tap(places["Type"])
    screen.frames()
    assert screen.app.root.screen.name == "measure"


def test_a_tap_made_while_the_next_screen_was_drawn_does_not_count_and_says_so(screen, panel, places) -> None:
    panel.tap(places["Measure"])
    screen.frames(1)
    panel.tap(places["Type"])
    screen.frames()
    assert (screen.app.root.screen.name, screen.app.root.message) == ("measure", TOO_EARLY)


def test_once_the_screen_is_there_every_tap_counts_however_fast(screen, panel, places) -> None:
    screen.go("measure")
    panel.tap(places["Type"])
    screen.frames(3)
    for key in "1144":
        panel.tap(places[key])
    screen.frames()
    assert screen.app.root.screen.entry_text == "1144"


def test_the_time_of_day_may_be_set_between_two_touches(screen, panel, places, monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    real_s = time.time
    for set_by_s in (-3600.0, 3600.0):
        for module in ("ui.touch.shell.time.time", "kivy.input.motionevent.time"):
            monkeypatch.setattr(module, lambda set_by_s=set_by_s: real_s() + set_by_s)
        screen.go("home")
        panel.tap(places["Measure"])
        screen.frames()
        assert screen.app.root.screen.name == "measure"


def test_an_alarm_is_not_covered_by_a_hasty_touch(screen, panel, places) -> None:
    screen.show(SCENES["lost"]())
    assert screen.app.root.alarm
    before = screen.app.root.message
    panel.tap(places["Measure"])
    panel.tap(places["Type"])
    screen.frames()
    assert screen.app.root.message == before

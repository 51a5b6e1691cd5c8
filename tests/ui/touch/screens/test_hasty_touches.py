"""Fingers faster than the panel: no touch presses what could not be seen, none that was seen is lost."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from kivy.base import EventLoop
from kivy.input.motionevent import MotionEvent
from kivy.tests.common import UnitTestTouch
from msgspec.structs import replace

from core.geometry.features import Feature
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import feature_place, find_text
from ui.bench.desks.measuring import CloseSession
from ui.pages.theme import TOUCH_GUARD_S
from ui.touch.shell import TOO_EARLY


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
    """Where things stand on screens that have all been up once; the setup is in sight, with its way to the bench."""
    screen.go("bench")
    places = {"Type": middle(screen, "Type")}
    screen.app.root.screen.change_mode()
    screen.frames()
    places |= {words: middle(screen, words) for words in ("1", "4")}
    screen.app.root.screen.change_mode()
    screen.go("setup")
    return places | {"Bench": middle(screen, "Bench")}


def test_taps_of_one_stalled_frame_press_only_what_stood_there(screen, panel, places) -> None:
    panel.tap(places["Bench"])
    panel.tap(places["Type"])
    screen.frames()
    assert screen.app.root.screen.name == "bench"
    assert not screen.app.root.screen.typing


def test_a_tap_made_while_the_next_screen_was_drawn_does_not_count_and_says_so(screen, panel, places) -> None:
    panel.tap(places["Bench"])
    screen.frames(1)
    panel.tap(places["Type"])
    screen.frames()
    shown = screen.app.root.screen
    assert (shown.name, shown.typing, shown.message) == ("bench", False, TOO_EARLY)


def test_once_the_screen_is_there_every_tap_counts_however_fast(screen, panel, places) -> None:
    screen.go("bench")
    panel.tap(places["Type"])
    screen.frames(3)
    for key in "1144":
        panel.tap(places[key])
    screen.frames()
    assert find_text(screen, "1144")


def test_the_time_of_day_may_be_set_between_two_touches(screen, panel, places, monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    real_s = time.time
    for set_by_s in (-3600.0, 3600.0):
        for module in ("ui.touch.shell.time.time", "kivy.input.motionevent.time"):
            monkeypatch.setattr(module, lambda set_by_s=set_by_s: real_s() + set_by_s)
        screen.go("setup")
        panel.tap(places["Bench"])
        screen.frames()
        assert screen.app.root.screen.name == "bench"


class Hands:
    """Two clocks turned by hand, as the shell reads them: since a screen was seen, and the time of day."""

    def __init__(self, shell: object, monkeypatch: pytest.MonkeyPatch) -> None:
        self.passed_s = 0.0
        began_s = shell._sight._since_s
        monkeypatch.setattr("ui.touch.shell.time.monotonic", lambda: began_s + self.passed_s)
        monkeypatch.setattr("ui.touch.shell.time.time", lambda: self.passed_s)

    def tap(self, place: tuple[float, float]) -> None:
        touch = UnitTestTouch(*place)
        touch.time_start = self.passed_s
        touch.touch_down()
        touch.touch_up()


@pytest.mark.parametrize(("after_s", "name"), [(0.0, "menu"), (0.3, "menu"), (0.4, "verdict")])
def test_a_touch_counts_a_third_of_a_second_after_the_screen_changed(
    after_s: float, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Offscreen(StandInBench(SCENES["no-go"]()), guard_s=TOUCH_GUARD_S) as screen:
        screen.go("menu")
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = after_s
        hands.tap(middle(screen, "Verdict"))
        assert screen.app.root.screen.name == name


def test_two_hasty_taps_void_no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    with Offscreen(StandInBench(SCENES["edges"]()), guard_s=TOUCH_GUARD_S) as screen:
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 1.0
        hands.tap(feature_place(screen, Feature.NL_FR))
        monkeypatch.undo()
        screen.frames()
        assert find_text(screen, "Wrong place")
        screen.bench.sent.clear()
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 0.3
        for words in ("Wrong place", "Slipped"):
            hands.tap(middle(screen, words))
        assert screen.bench.sent == []
        hands.passed_s = 0.4
        hands.tap(middle(screen, "Wrong place"))
        assert len(screen.bench.sent) == 1


def test_two_hasty_taps_answer_one_question_about_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pictures of the next answers come where the last one was touched."""
    with Offscreen(StandInBench(SCENES["to-correct"]()), guard_s=TOUCH_GUARD_S) as screen:
        screen.go("machine")
        screen.app.root.screen.answer("new")
        for answer in ("router", "bench router"):
            question = screen.app.root.screen._question(screen.app.snapshot)
            screen.app.root.screen._answered(question, answer)
        screen.app.root.screen.refresh()
        screen.frames()
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 1.0
        hands.tap(middle(screen, "Y grows away from me"))
        screen.frames()
        hands.tap(middle(screen, "Along X"))
        given = dict(screen.app.root.screen._answers)
    assert given["front"] == "y-away"
    assert "gantry_axis" not in given


def test_two_hasty_taps_heed_one_caution(monkeypatch: pytest.MonkeyPatch) -> None:
    """Upright, and after every second caution, the next picture lies where the last one but one was touched."""
    cautions = SCENES["cautions"]()
    with Offscreen(StandInBench(cautions), guard_s=TOUCH_GUARD_S) as screen:
        screen.show(cautions)
        screen.go("correct")
        screen.frames()
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 1.0
        thing = screen.app.root.screen.ids.thing
        hands.tap(thing.to_window(*thing.center))
        assert len(screen.bench.sent) == 1
        first = cautions.machines.guided
        two = replace(first, acknowledged=(*first.acknowledged, first.caution.name))
        screen.app.snapshot = replace(cautions, machines=replace(cautions.machines, guided=two))
        screen.app.root.show(screen.app.snapshot)
        screen.frames()
        hands.tap(thing.to_window(*thing.center))
        assert len(screen.bench.sent) == 1


@pytest.mark.parametrize(
    ("scene", "name", "choices", "words"),
    [
        ("no-witness", "witness", ("feelers", "next"), "Next step"),
        ("design-ready", "design", ("read", "next"), "Next"),
        ("to-correct", "cutting", ("next",), "Next"),
    ],
)
def test_two_hasty_taps_turn_one_leaf(
    scene: str, name: str, choices: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the middle of what is leafed through the buttons stay, and the next leaf was read by nobody."""
    shown = SCENES[scene]()
    with Offscreen(StandInBench(shown), guard_s=TOUCH_GUARD_S) as screen:
        screen.go(name)
        leafing = screen.app.root.screen
        for choice in choices:
            (leafing.choose if name == "witness" else leafing.act)(choice)
        screen.frames()
        began = leafing.leaf
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 1.0
        place = middle(screen, words)
        hands.tap(place)
        hands.tap(place)
        assert leafing.leaf == began + 1


def test_an_alarm_is_not_covered_by_a_hasty_touch(screen, panel, places) -> None:
    screen.show(SCENES["lost"]())
    assert screen.app.root.alarm
    before = screen.app.root.message
    panel.tap(places["Bench"])
    panel.tap(places["Type"])
    screen.frames()
    assert screen.app.root.screen.message == before


def test_a_button_that_came_under_the_finger_is_seen_before_it_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer of the archive settles the coupon between look and touch: where the reading was taken stands another
    button now, and the screen is the same."""
    with Offscreen(StandInBench(SCENES["to-correct"]()), guard_s=TOUCH_GUARD_S) as screen:
        screen.go("verdict")
        finish = find_text(screen, "Finish coupon")
        hands = Hands(screen.app.root, monkeypatch)
        hands.passed_s = 1.0
        before = tuple(finish.pos)
        finish.parent.padding = (0, 0, 90, 0)  # what a longer word beside it does
        screen.frames()
        assert tuple(finish.pos) != before
        screen.bench.sent.clear()
        hands.passed_s = 1.3
        hands.tap(finish.to_window(*finish.center))
        assert screen.bench.sent == []
        assert screen.app.root.message == TOO_EARLY
        hands.passed_s = 1.4
        hands.tap(finish.to_window(*finish.center))
        assert screen.bench.sent == [CloseSession()]

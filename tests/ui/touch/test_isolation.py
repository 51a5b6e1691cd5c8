"""A screen test that fails, or is ended in the middle, fails alone."""

from __future__ import annotations

import inspect
import signal
from pathlib import Path

import pytest
from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.uix.widget import Widget
from kivy.weakmethod import WeakMethod

from tests.ui.offscreen import LOOKED_AT, Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.touch.shell import Sight
from ui.touch.widgets import KeyButton


class EndedByTheClock(BaseException):
    """As pytest ends a test that hangs: wherever it is, and no `except Exception` holds it up."""


def test_what_breaks_off_inside_the_builder_does_not_reach_the_next_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    def hanging(*_args: object, **_words: object) -> None:
        raise EndedByTheClock

    with monkeypatch.context() as patched:
        patched.setattr(KeyButton, "__init__", hanging)
        with pytest.raises(EndedByTheClock), Offscreen(StandInBench(SCENES["first"]())):
            pass
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        assert screen.app.root.screen.screen_name == "bench"
        screen.go("verdict")
        assert screen.app.root.screen.screen_name == "verdict"


def _called_by_clock_and_window() -> set[str]:
    """What the running clock and window would still call of the program. What is drawn, and waits to be drawn, goes
    with the window's widgets."""
    called = [event.get_callback() for event in Clock.get_events()]
    for name in ("on_flip", "on_draw", "on_key_down", "on_touch_down", "size"):
        # Kivy holds what is bound weakly, and gives it back as it holds it.
        called += [one() if isinstance(one, WeakMethod) else one for one in Window.get_property_observers(name)]
    bound = [(one.__self__, one.__name__) for one in called if inspect.ismethod(one)]
    return {
        f"{type(owner).__name__}.{name}"
        for owner, name in bound
        if type(owner).__module__.startswith("ui.") and not isinstance(owner, Widget | Sight)
    }


def test_a_program_that_ends_before_it_is_seen_listens_no_more() -> None:
    running = Offscreen(StandInBench(SCENES["first"]()))
    running.frames = lambda count=3: None  # not one frame
    with running:
        of_app = {f"BenchApp.{name}" for name in ("_fit", "_key", "_frame_shown", "_show_newest")}
        beside = {"Sleep.touched", "Sleep.check", "Repaint.draw", "Garbage._look"}
        assert _called_by_clock_and_window() == of_app | beside
        running.app.stop()
        assert _called_by_clock_and_window() == set()


def test_a_program_that_ends_does_nothing_more_in_that_frame(screen) -> None:
    """As in Kivy's own loop; what is laid out then looks for a program that is gone."""
    later: list[float] = []

    def end(_elapsed_s: float) -> None:
        Clock.schedule_once(later.append, -1)  # before this frame is drawn, as layouts are
        screen.app.stop()

    Clock.schedule_once(end)
    screen.frames()
    assert (App.get_running_app(), later) == (None, [])


def test_a_program_leaves_no_event_and_no_turned_window_behind() -> None:
    with Offscreen(StandInBench(SCENES["first"]())):
        pass
    before, size = set(Clock.get_events()), tuple(Window.size)
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        for name in ("machine", "verdict", "shop"):
            screen.go(name)
        screen.tap(400, 240)
        Window.rotation = 90
        with screen.resized((640, 400)):
            screen.frames(1)
        Window.size = (600, 400)
        screen.frames(2)
        assert set(Clock.get_events()) - before
    assert set(Clock.get_events()) - before == set()
    assert (tuple(Window.size), Window.rotation) == (size, 0)


def test_what_is_looked_at_stays_until_another_program_is_made(looked_at) -> None:
    looked_at.show(SCENES["no-go"]())
    looked_at.go("verdict")
    again = LOOKED_AT.begun_anew()
    assert again is looked_at
    assert again.app.root.screen.screen_name == "bench"
    assert again.app.snapshot == SCENES["first"]()
    with Offscreen(StandInBench(SCENES["first"]())) as own:
        assert App.get_running_app() is own.app
    assert LOOKED_AT.begun_anew() is not looked_at


def test_a_run_with_a_window_still_ends_by_a_signal(screen) -> None:
    """By proc_pid_status(5): SDL's own handler would be caught there, of which Python does not know."""
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL
    caught = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("SigCgt:"))
    assert not int(caught.split()[1], 16) >> (signal.SIGTERM - 1) & 1

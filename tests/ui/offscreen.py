"""The real program on a screen that only exists in memory: real OpenGL, real pixels, real touches."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

import numpy as np
from kivy.app import App
from kivy.base import EventLoop, stopTouchApp
from kivy.clock import Clock, ClockEvent
from kivy.core.window import Window
from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels
from kivy.lang import Builder
from kivy.tests.common import UnitTestTouch

from tests.patience import WAIT_S
from tests.ui.scenes import CALIPER_CABLE, SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.bench.bench import Bench
from ui.pages.theme import LIGHT
from ui.state.snapshot import Snapshot
from ui.touch.bench_app import BenchApp
from ui.touch.shell import FIRST_SCREEN


def _forget_what_broke_off() -> None:
    """A test that was ended in the middle of building a widget leaves Kivy's builder at work on that rule, and it
    refuses every rule after: the next screen begins with a clean one."""
    Builder.rulectx.clear()


def _end_by_signals() -> None:
    """With its window SDL takes signals over, behind Python's back, and makes of each a window to be closed, which no
    test closes: a run of these tests could not be ended but by kill -9."""
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, signal.getsignal(number))


def _end_this_frame(_app: BenchApp) -> None:
    """In its endless loop Kivy does nothing more in a frame in which the program ended: no widget is laid out then that
    would look for the program."""
    EventLoop.quit = True


class Offscreen:
    """Runs the application without its endless loop; frames are turned by hand. Not `drawn` they are laid out, and only
    those are drawn whose pixels are looked at: geometry needs none."""

    def __init__(self, bench: Bench, *, drawn: bool = True, **given: object) -> None:
        LOOKED_AT.end()  # Kivy knows one program at a time: from when it is made, until one ends
        self.bench = bench
        # Tests of what a touch does need not wait out the guard; test_hasty_touches.py has it as it is.
        self.app = BenchApp(bench, **{"guard_s": 0.0, **given})
        self.app.bind(on_stop=_end_this_frame)
        self._drawn = drawn
        draw = Window.on_draw
        self._drawing = patch.object(Window, "on_draw", lambda: draw() if self._drawn else None)
        self._scheduled_before: set[ClockEvent] = set()
        self._window_before: tuple[int, tuple[int, int]] | None = None

    def __enter__(self) -> Offscreen:
        EventLoop.ensure_window()
        self._drawing.start()
        _end_by_signals()
        _forget_what_broke_off()
        self._scheduled_before = set(Clock.get_events())
        self._window_before = Window.rotation, tuple(Window.size)
        try:
            self.app._run_prepare()
            self.frames(4)
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_error: object) -> None:
        try:
            self._end()
        finally:  # whatever breaks off in the midst: the next one turns frames, and draws them
            EventLoop.quit = False
            self._drawing.stop()

    def _end(self) -> None:
        self.app.stop()
        stopTouchApp()
        for widget in list(Window.children):
            Window.remove_widget(widget)
        if self._window_before is not None and self._window_before != (Window.rotation, tuple(Window.size)):
            Window.rotation, Window.size = self._window_before  # the turn first: it exchanges the sides
        # Kivy's own of a window that was sized or turned come half a second behind, and draw a frame in the next test.
        for event in Clock.get_events():
            if event not in self._scheduled_before:
                event.cancel()

    def frames(self, count: int = 3) -> None:
        """Turn so many; a program that has ended by itself turns none, as in Kivy's own loop."""
        for _ in range(count):
            if App.get_running_app() is not None:
                EventLoop.idle()

    def frames_for(self, seconds: float) -> None:
        """Turn frames until this much of Kivy's own time has passed."""
        end = Clock.get_time() + seconds
        while Clock.get_time() < end:
            EventLoop.idle()

    def frames_until(self, holds: Callable[[], bool]) -> None:
        """Turn frames until it is so, as what another thread does takes its time."""
        end_s = time.monotonic() + WAIT_S
        while time.monotonic() < end_s:
            if holds():
                self.frames()  # what follows from it is laid out before anything is touched
                return
            self.frames(1)
        raise AssertionError("it never became so")

    def show(self, snapshot: Snapshot) -> None:
        self.bench.publish(snapshot)
        self.frames()

    def go(self, name: str) -> None:
        """Bring a screen into sight."""
        self.app.root.go(name)
        self.frames()

    def show_on(self, name: str, snapshot: Snapshot) -> None:
        """Bring a screen into sight that shows this; the page of a cable is opened for its port, as the instruments
        screen does."""
        self.show(snapshot)
        self.app.looked_at = CALIPER_CABLE.port if name == "cable" else ""
        self.go(name)

    def tap(self, x: float, y: float, *, bounced: bool = False) -> None:
        """Touch a point, px from the lower left, as a finger does; `bounced` as Kivy marks a second touch close behind
        the first, which it tells by real time."""
        touch = UnitTestTouch(x, y)
        touch.is_double_tap = bounced
        touch.touch_down()
        self.frames(1)
        touch.touch_up()
        self.frames()

    @contextmanager
    def resized(self, size: tuple[int, int]) -> Iterator[None]:
        """On a panel of another size, px."""
        before = tuple(Window.size)
        Window.size = size
        self.frames()
        assert tuple(Window.size) == size
        try:
            yield
        finally:
            Window.size = before
            self.frames()

    def pixels(self) -> np.ndarray:
        """The screen as array (height, width, 3), first row at the top."""
        drawn, self._drawn = self._drawn, True
        Window.canvas.ask_update()
        self.frames(1)
        self._drawn = drawn
        width, height = Window.size
        raw = glReadPixels(0, 0, width, height, GL_RGBA, GL_UNSIGNED_BYTE)
        return np.frombuffer(raw, np.uint8).reshape(height, width, 4)[::-1, :, :3]

    def save(self, path: Path) -> None:
        from PIL import Image

        self.frames(2)
        Image.fromarray(self.pixels()).save(path)


class LookedAt:
    """One running program for the tests that only look, for to start it and to build its screens takes ten times as
    long as a look. It ends where one begins that is a test's own, and where a test has failed."""

    def __init__(self) -> None:
        self._running: Offscreen | None = None

    def begun_anew(self) -> Offscreen:
        """The bench before its first reading is in sight, whatever was looked at before."""
        if self._running is None:
            self._running = Offscreen(StandInBench(SCENES["first"]()), drawn=False).__enter__()
        running, app = self._running, self._running.app
        app.palette, app.looked_at, app.coupon_draft = LIGHT, "", None
        running.bench.sent.clear()
        running.bench.publish(SCENES["first"]())
        running.go(FIRST_SCREEN)
        return running

    def end(self) -> None:
        """The next look starts another one."""
        running, self._running = self._running, None
        if running is not None:
            running.__exit__()


LOOKED_AT = LookedAt()

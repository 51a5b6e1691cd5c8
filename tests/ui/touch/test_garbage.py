"""The collector of garbage comes between two turns of the window's loop, and at no other time."""

from __future__ import annotations

import gc
import sys
import threading
import weakref
from collections.abc import Callable, Iterator
from types import FrameType

import pytest
from kivy.factory import Factory
from kivy.lang import builder
from kivy.uix.widget import Widget

from ui.touch.garbage import LOOKS_EVERY_S, QUIET_S, WAITS_TIMES

AT_ONCE, NEVER = 1, 1_000_000


@pytest.fixture(autouse=True)
def only_what_is_new_is_looked_through(screen) -> Iterator[None]:
    gc.collect()
    gc.freeze()
    thresholds = gc.get_threshold()
    yield
    gc.set_threshold(*thresholds)


def _in_a_circle(screen, kind: str = "FullKey") -> Widget:
    """A widget that, dropped, only the collector frees, as it frees a part of the screen with all that it holds."""
    widget = getattr(Factory, kind)()
    widget.itself = widget
    screen.frames(2)
    return widget


def _wants_collecting_within(work: Callable[..., None], dropped: weakref.ref[Widget]) -> None:
    """From the first step of this work for a rule of the widget on, every value made is one too many."""

    def watch(frame: FrameType, event: str, _arg: object) -> None:
        if event == "call" and frame.f_code is work.__code__:
            _element, _key, _value, _rule, names = frame.f_locals["args"][:5]
            if names["self"].__self__ is dropped():
                sys.setprofile(None)
                gc.set_threshold(AT_ONCE)

    sys.setprofile(watch)


@pytest.mark.parametrize("work", [builder.update_intermediates, builder.call_fn], ids=lambda work: work.__name__)
@pytest.mark.parametrize("kind", ["FullKey", "Told", "Heading", "VerdictChip"])
def test_no_widget_goes_while_a_rule_of_its_own_is_at_work(screen, kind: str, work: Callable[..., None]) -> None:
    dropped = weakref.ref(_in_a_circle(screen, kind))
    _wants_collecting_within(work, dropped)
    try:
        screen.app.property("palette").dispatch(screen.app)
        assert sys.getprofile() is None, "no rule of it was at work"
    finally:
        sys.setprofile(None)
    assert dropped() is not None


def test_no_other_thread_makes_a_widget_go(screen) -> None:
    dropped = weakref.ref(_in_a_circle(screen))
    gc.set_threshold(AT_ONCE)
    worker = threading.Thread(target=lambda: [[] for _ in range(10_000)])
    worker.start()
    worker.join()
    assert dropped() is not None


def test_what_is_dropped_goes_once_there_is_enough_for_a_look(screen) -> None:
    dropped = weakref.ref(_in_a_circle(screen))
    screen.frames_for(3 * LOOKS_EVERY_S)
    assert dropped() is not None
    gc.set_threshold(AT_ONCE)
    screen.frames_for(3 * LOOKS_EVERY_S)
    assert dropped() is None


def _dropped_when_old(screen) -> weakref.ref[Widget]:
    held = _in_a_circle(screen)
    gc.collect(1)  # what lives through this one is of the oldest
    return weakref.ref(held)


def _the_oldest_are_due(times: int) -> None:
    gc.set_threshold(NEVER, NEVER, AT_ONCE)
    while gc.get_count()[-1] <= times * AT_ONCE:
        gc.collect(1)


def test_a_look_for_the_young_leaves_the_oldest_be(screen) -> None:
    dropped = _dropped_when_old(screen)
    gc.set_threshold(AT_ONCE, NEVER, NEVER)
    screen.frames_for(3 * LOOKS_EVERY_S)
    assert dropped() is not None


def test_the_oldest_go_when_nothing_is_done(screen) -> None:
    dropped = _dropped_when_old(screen)
    _the_oldest_are_due(1)
    for _ in range(3):
        screen.frames_for(LOOKS_EVERY_S)
        screen.tap(1, 1)
    assert dropped() is not None
    screen.frames_for(QUIET_S + 2 * LOOKS_EVERY_S)
    assert dropped() is None


def test_the_oldest_do_not_fill_a_bench_that_is_never_quiet(screen) -> None:
    dropped = _dropped_when_old(screen)
    _the_oldest_are_due(WAITS_TIMES)
    screen.tap(1, 1)
    screen.frames_for(2 * LOOKS_EVERY_S)
    assert dropped() is None


def test_behind_the_window_it_comes_by_itself_again(screen) -> None:
    assert not gc.isenabled()
    screen.__exit__()
    assert gc.isenabled()

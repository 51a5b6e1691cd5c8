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

from ui.touch.garbage import LOOKS_EVERY_S

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


def test_what_was_long_in_sight_goes_when_the_oldest_are_due(screen) -> None:
    held = _in_a_circle(screen)
    gc.collect(1)  # what lives through this one is of the oldest
    dropped = weakref.ref(held)
    del held
    gc.set_threshold(AT_ONCE, NEVER, NEVER)
    screen.frames_for(3 * LOOKS_EVERY_S)
    assert dropped() is not None
    gc.set_threshold(NEVER, NEVER, 0)
    gc.collect(1)
    screen.frames_for(3 * LOOKS_EVERY_S)
    assert dropped() is None


def test_behind_the_window_it_comes_by_itself_again(screen) -> None:
    assert not gc.isenabled()
    screen.__exit__()
    assert gc.isenabled()

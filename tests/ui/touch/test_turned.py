"""A panel that was turned shows what one shows that has always stood so: a size that a layout once gave stays with a
widget whose part of the room ends, unless its own is said anew."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from kivy.core.window import Window

from tests.ui.offscreen import Offscreen, StandInBench
from tests.ui.scenes import SCENES
from tests.ui.touch.test_layout import ELSEWHERE
from ui.touch.screen import SCREENS

# Of one scale, so that nothing but the turn has things placed anew.
LYING, UPRIGHT = (800, 480), (480, 800)
SHOWN = {**dict.fromkeys(SCREENS, "edges"), **ELSEWHERE, "verdict": "no-go", "correct": "set"}


def placed(screen: Offscreen, name: str) -> list[tuple[str, tuple[int, ...]]]:
    """Every widget in sight, with its place and size in whole px."""
    screen.show_on(name, SCENES[SHOWN[name]]())
    screen.frames()
    return [(type(one).__name__, tuple(map(round, (*one.pos, *one.size)))) for one in screen.app.root.walk()]


@pytest.fixture
def window() -> Iterator[type[Window]]:
    """The window, as large afterwards as before."""
    before = tuple(Window.size)
    yield Window
    Window.size = before


@pytest.mark.parametrize(("stood", "stands"), [(LYING, UPRIGHT), (UPRIGHT, LYING)], ids=["up", "down"])
def test_a_turned_panel_is_as_one_that_always_stood_so(
    window: type[Window], stood: tuple[int, int], stands: tuple[int, int]
) -> None:
    wanted, found = {}, {}
    window.size = stands
    with Offscreen(StandInBench(SCENES["edges"]())) as screen:
        for name in SHOWN:
            wanted[name] = placed(screen, name)
    window.size = stood
    with Offscreen(StandInBench(SCENES["edges"]())) as screen:
        for name in SHOWN:
            placed(screen, name)
            with screen.resized(stands):
                found[name] = placed(screen, name)
    assert [name for name in SHOWN if found[name] != wanted[name]] == []

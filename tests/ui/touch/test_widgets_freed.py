"""What is taken off the screen is forgotten: nothing that outlives it may hold on to it, or a bench that is never
switched off fills its memory row by row."""

from __future__ import annotations

import gc
import weakref

import pytest

from tests.ui.scenes import SCENES


@pytest.fixture(autouse=True)
def only_what_is_new_is_looked_through(screen) -> None:
    """The collector passes over all that was there before: what of it holds on to something new still holds it."""
    gc.freeze()


def _types() -> list[type]:
    from kivy.uix.widget import Widget

    from ui.touch import shell
    from ui.touch.screens.numbers import CharacteristicRow
    from ui.touch.widgets import (
        basics,
        bench_faces,
        choice_row,
        coupon_figure,
        deviation_bar,
        digits,
        entry,
        lamp,
        move_picture,
        outline_sheet,
        picture_sheet,
        trend_chart,
    )

    modules = (basics, bench_faces, choice_row, coupon_figure, deviation_bar, digits, entry, lamp)
    modules += (move_picture, outline_sheet, picture_sheet, trend_chart)
    found = {
        kind
        for module in modules
        for kind in vars(module).values()
        if isinstance(kind, type) and issubclass(kind, Widget) and kind.__module__ == module.__name__
    }
    found |= {CharacteristicRow, *shell.SCREENS.values()}
    return sorted((kind for kind in found if not kind.__name__.startswith("_")), key=lambda kind: kind.__name__)


def test_every_widget_and_screen_is_freed(screen) -> None:
    held = []
    for kind in _types():
        here = weakref.ref(kind())
        screen.frames(2)
        gc.collect()
        if here() is not None:
            held.append(kind.__name__)
    assert held == []


@pytest.mark.parametrize("name", ["verdict", "numbers", "bench", "history"])
def test_a_screen_filled_anew_keeps_nothing_of_before(screen, name: str) -> None:
    from kivy.uix.widget import Widget

    def widgets() -> int:
        gc.collect()
        return sum(issubclass(type(one), Widget) for one in gc.get_objects())

    screen.go(name)
    counts = []
    for _ in range(3):
        for scene in ("no-go", "empty"):
            screen.show(SCENES[scene]())
        counts.append(widgets())
    assert counts[2] <= counts[1], counts

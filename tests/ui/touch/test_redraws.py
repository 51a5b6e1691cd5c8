"""The screen draws when the snapshot changed, and only then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.ui.scenes import SCENES, live


@pytest.fixture(autouse=True)
def _measuring(screen) -> None:
    screen.go("bench")


def count_draws(screen, frames: int) -> int:
    from kivy.core.window import Window

    drawn: list[int] = []
    Window.bind(on_draw=lambda *_: drawn.append(1))
    screen.frames(frames)
    return len(drawn)


def test_nothing_is_drawn_while_nothing_changes(screen) -> None:
    screen.frames(10)
    assert count_draws(screen, 60) == 0


def test_no_screen_draws_while_nothing_changes(screen) -> None:
    """Nothing flickers, and an idle bench costs nothing: on every screen of the program."""
    from ui.touch.shell import SCREENS

    screen.show(SCENES["edges"]())
    drawn = {}
    for name in SCREENS:
        screen.go(name)
        screen.frames(10)
        drawn[name] = count_draws(screen, 20)
    assert {name: count for name, count in drawn.items() if count} == {}


def test_an_equal_snapshot_is_not_drawn(screen) -> None:
    snapshot = SCENES["edges"]()
    screen.show(snapshot)
    screen.frames(10)
    screen.bench.publish(replace(snapshot, revision=snapshot.revision + 1))
    assert count_draws(screen, 20) == 0


def test_a_new_indication_is_drawn_within_a_frame(screen) -> None:
    snapshot = SCENES["edges"]()
    screen.show(snapshot)
    screen.frames(10)
    before = screen.pixels().copy()
    screen.bench.publish(replace(snapshot, live_length=live(snapshot.next_length, 121.4)))
    screen.frames(1)
    assert (screen.pixels() != before).any()


def test_only_one_screen_is_in_sight_from_the_first_frame(screen) -> None:
    manager = screen.app.root.ids.screens
    for name in ("verdict", "menu", "bench"):
        screen.app.root.go(name)
        assert [child.name for child in manager.children] == [name]


def test_a_finished_coupon_brings_its_verdict_into_sight(screen) -> None:
    snapshot = SCENES["no-go"]()
    screen.show(snapshot)
    screen.app.root.go("bench")
    screen.show(replace(snapshot, closed=True))
    assert screen.app.root.screen.name == "verdict"

"""The screen draws when the snapshot changed, and only then."""

from __future__ import annotations

import pytest
from kivy.core.window import Window
from kivy.graphics import Rectangle, StencilPush
from msgspec.structs import replace

from core.geometry import Feature
from core.metrology import LiveState
from firmware_bridge import LinkState
from tests.ui.instructions import instructions_of
from tests.ui.scenes import SCENES, live
from ui.pages.bench import bench_page


@pytest.fixture
def drawn() -> bool:
    """Every frame: it is what this is about."""
    return True


@pytest.fixture(autouse=True)
def _measuring(screen) -> None:
    screen.go("bench")


def count_draws(screen, frames: int) -> int:
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


def test_the_page_is_made_anew_where_more_than_an_indication_has_changed(screen) -> None:
    before = SCENES["edges"]()
    changes = {
        "pending": Feature.NEAR,
        "closed": True,
        "readings": before.readings[:-1],
        "message": SCENES["question"]().message,
        "settings": replace(before.settings, sleep_min=60),
        "instruments": tuple(replace(one, state=LinkState.LOST) for one in before.instruments),
    }
    assert before.instruments
    for name, value in changes.items():
        screen.show(before)
        screen.go("bench")
        now = replace(before, live_length=live(before.next_length, 119.4), **{name: value})
        assert now != before, name
        screen.show(now)
        screen.go("bench")
        made = bench_page(now, screen.app.in_hand.quantity, screen.app.root.screen._doing)
        assert screen.app.root.screen._page == made, name


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


def test_no_pixel_is_filled_before_the_screen_is_drawn_on_it(screen) -> None:
    """On a slow renderer a sheet under all the rest, or a stencil around it, costs as much as half of the bench."""
    from ui.touch.shell import SCREENS

    assert not [one for one in instructions_of(Window.canvas) if isinstance(one, StencilPush)]
    whole = Window.width * Window.height
    for name in SCREENS:
        screen.go(name)
        drawn = instructions_of(Window.canvas)
        grounds = [one.size for one in drawn if isinstance(one, Rectangle) and one.size[0] * one.size[1] > 0.9 * whole]
        assert not grounds, name


def test_the_line_below_the_other_screens_is_not_drawn_on_the_bench(screen) -> None:
    footer = screen.app.root._footer
    drawn = {"menu": True, "bench": False, "verdict": True}
    for name, is_drawn in drawn.items():
        screen.go(name)
        assert (footer.canvas in instructions_of(Window.canvas)) is is_drawn


def test_moving_jaws_make_no_lettering_and_no_page_anew(screen, monkeypatch) -> None:
    """Fifty times a second: what stands still is neither worded, lettered, drawn nor worked out again."""
    snapshot = SCENES["edges"]()
    nominal_mm = snapshot.coupon.nominal(snapshot.next_length)
    near = [LiveState.INSIDE, LiveState.NEAR_LIMIT, LiveState.OUTSIDE, LiveState.UNJUDGED]
    values = [(nominal_mm + 0.05 * step, state) for step, state in enumerate(near * 3)]

    def move(seen: tuple[float, LiveState]) -> None:
        now = replace(live(snapshot.next_length, seen[0]), state=seen[1])
        screen.bench.publish(replace(screen.app.snapshot, live_length=now))
        screen.frames(1)

    screen.show(snapshot)
    for value in values:
        move(value)
    made: list[str] = []
    for module, name in (
        ("ui.touch.widgets.basics.Spoken", "texture_update"),
        ("ui.touch.widgets.coupon_figure.CouponFigure", "_redraw"),
        ("ui.touch.widgets.deviation_bar.DeviationBar", "_redraw"),
        ("kivy.core.text.LabelBase", "refresh"),
        ("ui.touch.screens.bench", "bench_page"),
    ):
        monkeypatch.setattr(f"{module}.{name}", lambda *_given, of=name: made.append(of))
    for value in reversed(values):
        move(value)
    assert made == []

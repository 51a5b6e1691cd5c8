"""A frame drawn in part looks as if it had been drawn whole; tests/endurance/stale_pixels.py looks for long."""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import example, given, strategies as st
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.graphics import Color, Rectangle, RenderContext
from kivy.graphics.instructions import InstructionGroup, VertexInstruction
from kivy.graphics.texture import Texture
from kivy.graphics.transformation import Matrix
from msgspec.structs import replace

from tests.ui.instructions import instructions_of
from tests.ui.scenes import SCENES
from tests.ui.stale import assert_nothing_is_stale, in_buffer, move, wander
from ui.touch import repaint
from ui.touch.buffer_age import told_age
from ui.touch.reach import ANYWHERE, EVERYWHERE, union
from ui.touch.repaint import Box, Damage, Part, bands
from ui.touch.widgets.basics import Bounds
from ui.touch.widgets.deviation_bar import DeviationBar, Pointer
from ui.touch.widgets.digits import Digits

_ALONG, _SIZE = st.floats(0.0, 400.0), st.floats(0.0, 60.0)
BOX, OTHER = (10.0, 20.0, 30.0, 40.0), (25.0, 0.0, 50.0, 30.0)


@pytest.fixture
def drawn() -> bool:
    """Every frame: it is what this is about."""
    return True


@pytest.fixture
def parts(monkeypatch) -> list[list[Box]]:
    """The bands that were drawn, frame by frame."""
    found: list[list[Box]] = []
    draw = Part.draw

    def seen(part: Part, boxes: list[Box]) -> None:
        found.append(boxes)
        draw(part, boxes)

    monkeypatch.setattr(Part, "draw", seen)
    return found


def area_px(bands: list[Box]) -> int:
    return sum(wide * high for _left, _low, wide, high in bands)


def test_moving_jaws_draw_their_own_part_of_the_bench_only(screen, parts, monkeypatch) -> None:
    # The whole frame in between has its own test; on a busy machine these twenty take many of its seconds.
    monkeypatch.setattr(repaint, "QUIET_AFTER_S", 3600.0)
    screen.show(SCENES["edges"]())
    screen.go("bench")
    for number in range(20):
        move(screen, 119.0 + number / 10)
        screen.frames(1)
        assert_nothing_is_stale(number)
    assert len(parts) >= 18
    assert max(map(area_px, parts)) < 0.3 * Window.width * Window.height


@pytest.mark.parametrize("scene", ["set", "inside"])
def test_a_gantry_being_set_is_drawn_where_it_and_its_figures_move(screen, parts, monkeypatch, scene: str) -> None:
    monkeypatch.setattr(repaint, "QUIET_AFTER_S", 3600.0)
    screen.show(SCENES[scene]())
    screen.go("correct")
    screen.frames(10)
    value = screen.app.snapshot.live_length.value
    assert value is not None
    parts.clear()
    for number in range(20):
        move(screen, value + 0.01 * (number % 7))
        screen.frames(1)
        assert_nothing_is_stale(number)
    assert len(parts) >= 18
    assert max(map(area_px, parts)) < 0.7 * Window.width * Window.height


def test_a_gantry_on_its_whole_way_leaves_nothing_behind(screen) -> None:
    screen.show(SCENES["set"]())
    screen.go("correct")
    for gap_mm in (5.2, 6.0, 9.0, 7.07, 7.2, 7.0, 12.0, 16.0, 30.0, 5.2):
        move(screen, gap_mm)
        screen.frames(1)
        assert_nothing_is_stale(gap_mm)


@pytest.mark.parametrize("rotation_deg", [90, 180, 270])
def test_a_turned_panel_is_drawn_in_the_same_parts(screen, parts, rotation_deg) -> None:
    snapshot = SCENES["edges"]()
    try:
        screen.show(replace(snapshot, settings=replace(snapshot.settings, rotation_deg=rotation_deg)))
        screen.go("bench")
        for number in range(6):
            move(screen, 100.0 + 7.77 * number)
            screen.frames(1)
            assert_nothing_is_stale((rotation_deg, number))
        assert parts
    finally:
        Window.rotation = 0


def test_whatever_changes_shows_in_the_next_frame(screen) -> None:
    wander(screen, 0, 40)


def test_a_resized_window_is_drawn_whole(screen) -> None:
    screen.show(SCENES["edges"]())
    with screen.resized((640, 400)):
        move(screen, 101.0)
        screen.frames(1)
        assert_nothing_is_stale("resized")


def test_what_the_rule_misses_does_not_stand_for_long(screen, monkeypatch) -> None:
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames_for(1.2 * repaint.WHOLE_AFTER_S)
    monkeypatch.setattr(Digits, "take_changed", lambda one: (one.x, one.y, one.x + 1, one.y + 1))
    move(screen, 100.0)
    screen.frames(2)
    move(screen, 138.8)
    screen.frames(1)
    with pytest.raises(AssertionError):
        assert_nothing_is_stale("the digits say too little")
    move(screen, 99.9)
    screen.frames_for(1.2 * repaint.WHOLE_AFTER_S)

    assert_nothing_is_stale("a whole frame has come")


def test_what_stands_elsewhere_is_left_out_of_a_part_and_is_there_again(screen) -> None:
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    held: list[int] = []
    draw = Window.on_draw
    with patch.object(Window, "on_draw", lambda: (held.append(drawn_by(Window.canvas)), draw())):
        for number in range(4):
            if number == 2:
                Window.canvas.ask_update()  # drawn whole: from now on only what moves between near values
                screen.frames(2)
            move(screen, 120.01 + 0.01 * number)
            screen.frames(1)
    assert held[-1] < 0.6 * drawn_by(Window.canvas)


def test_the_letters_at_the_limits_are_not_drawn_with_the_pointer(screen) -> None:
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    bar = next(one for one in screen.app.root.walk() if isinstance(one, DeviationBar))
    (pointer,) = bar.children
    met: list[tuple[bool, bool]] = []
    draw = Window.on_draw

    def look() -> None:
        shown = instructions_of(Window.canvas)
        met.append((pointer.canvas in shown, bar._letters in shown))
        draw()

    with patch.object(Window, "on_draw", look):
        for number in range(3):
            move(screen, 120.01 + 0.01 * number)
            screen.frames(1)
    assert met[-1] == (True, False)


def test_jaws_that_come_to_the_same_places_again_are_drawn_as_before(screen, parts, monkeypatch) -> None:
    """Where, and with what, is worked out once."""
    monkeypatch.setattr(repaint, "QUIET_AFTER_S", 3600.0)
    worked_out: list[frozenset[Bounds]] = []
    planned = repaint.Repaint._planned

    def counted(one: repaint.Repaint, drawn: frozenset[Bounds]) -> object:
        worked_out.append(drawn)
        return planned(one, drawn)

    monkeypatch.setattr(repaint.Repaint, "_planned", counted)
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    for number in range(12):
        if number == 6:
            worked_out.clear()
        move(screen, 119.91 + 0.01 * (number % 3))
        screen.frames(1)
        assert_nothing_is_stale(number)
    assert len(parts) == 12
    assert not worked_out


def test_only_so_many_plans_are_kept(screen, monkeypatch) -> None:
    monkeypatch.setattr(repaint, "MOST_PLANS", 3)
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    for number in range(12):
        move(screen, 119.0 + 0.37 * number % 2)
        screen.frames(1)
        assert len(screen.app._repaint._plans) <= 3
        assert_nothing_is_stale(number)


def drawn_by(group: InstructionGroup) -> int:
    """How many pieces are drawn by a group and those in it."""
    return sum(isinstance(one, VertexInstruction) for one in instructions_of(group))


def test_a_whole_frame_waits_until_nothing_moves(screen, parts, monkeypatch) -> None:
    """A number that comes meanwhile is drawn in its part."""
    monkeypatch.setattr(repaint, "QUIET_AFTER_S", 0.0)
    monkeypatch.setattr(repaint, "WHOLE_AFTER_S", 3600.0)
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    for number in range(8):
        parts.clear()
        move(screen, 119.5 + 0.01 * number)
        screen.frames(1)
        assert len(parts) == 1
    way = screen.app._repaint._way
    screen.frames(2)
    assert screen.app._repaint._whole_due is None
    assert screen.app._repaint._way is way, "nothing has changed: what was learnt holds"


def test_a_whole_frame_waits_no_longer_than_it_may(screen, parts, monkeypatch) -> None:
    monkeypatch.setattr(repaint, "QUIET_AFTER_S", 0.0)
    monkeypatch.setattr(repaint, "WHOLE_AFTER_S", 0.05)
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    parts.clear()
    frames, end_s = 0, Clock.get_time() + 1.0
    while Clock.get_time() < end_s:
        move(screen, 119.5 + 0.01 * (frames % 50))
        screen.frames(1)
        frames += 1
    assert len(parts) < frames


def test_what_a_whole_frame_drew_in_between_goes_with_the_next_part(screen) -> None:
    """A widget is not asked where it has changed for a frame that is drawn whole."""
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    for before, whole, after in ((119.95, 119.4, 119.96), (120.01, 120.24, 120.05), (119.99, 119.3, 119.98)):
        move(screen, before)
        screen.frames(1)
        screen.app._repaint._way = repaint.Way()
        move(screen, whole)
        screen.frames(1)
        move(screen, after)
        screen.frames(1)
        assert_nothing_is_stale(after)


def test_what_fades_is_drawn_anew_where_it_stands(screen) -> None:
    """Whatever it says of where it was written over."""
    screen.show(SCENES["edges"]())
    screen.go("bench")
    moving = [one for one in screen.app.root.walk() if isinstance(one, Digits | Pointer)]
    screen.frames(6)
    for number, opacity in enumerate((0.5, 0.2, 1.0)):
        move(screen, 120.01)
        screen.frames(1)
        for one in moving:
            one.opacity = opacity
        move(screen, 120.02 + 0.01 * number)
        screen.frames(1)
        assert_nothing_is_stale(opacity)


def test_where_nothing_has_changed_nothing_is_drawn(screen, parts) -> None:
    """A window that is drawn unasked."""
    screen.show(SCENES["edges"]())
    screen.go("bench")
    screen.frames(6)
    parts.clear()
    Window.dispatch("on_draw")
    assert not parts
    assert_nothing_is_stale("drawn unasked")


def test_a_buffer_in_memory_keeps_its_picture(screen) -> None:
    assert told_age()() == 1


@pytest.mark.parametrize("age", [2, 3])
def test_into_an_older_buffer_as_much_is_drawn_as_has_changed_since(screen, parts, monkeypatch, age: int) -> None:
    """As on a panel, whose graphics system turns between two buffers or three."""
    monkeypatch.setattr(repaint, "told_age", lambda: lambda: age)
    screen.app._repaint._way = repaint.Way()  # it is asked when that is learnt
    Window.canvas.ask_update()
    screen.frames(1)
    pictures: deque[np.ndarray] = deque(maxlen=age)

    def lay_older(_window: object) -> None:
        if len(pictures) == age:
            lay(pictures[0])

    def keep(_window: object) -> None:
        pictures.append(in_buffer())

    Window.bind(on_draw=lay_older, on_flip=keep)  # what is bound last is called first
    try:
        wander(screen, age, 30)
        screen.show(SCENES["edges"]())
        screen.go("bench")
        parts.clear()
        for number in range(20):
            move(screen, 119.5 + 0.37 * number % 3)
            screen.frames(1)
            assert_nothing_is_stale((age, number))
    finally:
        Window.unbind(on_draw=lay_older, on_flip=keep)
    assert len(parts) > 10


def lay(picture: np.ndarray) -> None:
    """Have this picture in the buffer."""
    high, wide = picture.shape[:2]
    texture = Texture.create(size=(wide, high), colorfmt="rgb")
    texture.blit_buffer(picture.tobytes(), colorfmt="rgb")
    context = RenderContext()
    context["projection_mat"] = Matrix().view_clip(0, wide, 0, high, -1, 1, 0)
    with context:
        Color(1, 1, 1, 1)
        Rectangle(texture=texture, size=(wide, high))
    context.draw()


def test_an_older_buffer_is_drawn_where_any_frame_since_differed() -> None:
    damage = Damage()
    assert damage.add(ANYWHERE, 0) == {EVERYWHERE}
    assert damage.add((BOX,), 1) == {BOX}
    assert damage.add((OTHER,), 1) == {OTHER}
    assert damage.add((OTHER,), 2) == {OTHER}
    assert damage.add((OTHER,), 4) == {BOX, OTHER}
    assert EVERYWHERE in damage.add((), 6)


def test_a_buffer_of_unknown_age_is_drawn_whole() -> None:
    damage = Damage()
    for _ in range(20):
        assert damage.add((BOX,), 0) == {EVERYWHERE}
        assert damage.add((BOX,), 1) == {BOX}
    assert damage.add((BOX,), repaint.KEPT_FRAMES + 1) == {EVERYWHERE}


@given(places=st.lists(st.tuples(_ALONG, _ALONG, _SIZE, _SIZE), min_size=1, max_size=7))
@example(places=[(0, 0, 10, 10), (50, 14, 10, 10), (0, 28, 10, 10)])
@example(places=[(0, 0, 10, 10), (50, 13, 10, 10), (0, 27, 10, 10)])
def test_bands_hold_every_place_and_share_no_pixel(places) -> None:
    boxes = [(x, y, x + wide, y + high) for x, y, wide, high in places]
    found = bands(boxes)
    assert 1 <= len(found) <= repaint.MOST_BANDS
    assert all(any(union((band, box)) == band for band in found) for box in boxes)
    for lower, upper in pairwise(found):
        assert int(lower[3]) + 2 <= int(upper[1]) - 1, "what is clipped is a pixel larger on each side"

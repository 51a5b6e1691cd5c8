"""Groups of instructions draw where they are said to, and nothing is said where that is not certain."""

from __future__ import annotations

from math import ceil, floor

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, strategies as st
from kivy.core.window import Window
from kivy.graphics import (
    Canvas,
    Color,
    Ellipse,
    InstructionGroup,
    Line,
    Mesh,
    PopMatrix,
    PushMatrix,
    Rectangle,
    Rotate,
    Translate,
)

from tests.examples import some_of_all
from tests.ui.scenes import SCENES
from tests.ui.stale import in_buffer, move
from ui.touch.reach import NOWHERE, reaches, union

INK = (0.1, 0.2, 0.3, 1.0)
_PLACE = st.integers(60, 340)
_POINTS = st.lists(st.tuples(_PLACE, _PLACE), min_size=2, max_size=5, unique=True)


@pytest.fixture
def drawn() -> bool:
    """Every frame: it is what this is about."""
    return True


def reach_of(*instructions: object) -> tuple[float, ...]:
    canvas, group = Canvas(), InstructionGroup()
    for one in instructions:
        group.add(one)
    canvas.add(group)
    places = reaches(canvas, [canvas]).get(group)
    return None if places is None else union(places)


def inked(*instructions: object) -> tuple[int, int, int, int] | None:
    """Left, bottom, right and top of the pixels that these change, px."""
    Window.on_draw()
    before, canvas = in_buffer(), Canvas()
    for one in (Color(*INK), *instructions):
        canvas.add(one)
    Window.canvas.add(canvas)
    try:
        Window.on_draw()
        changed = np.argwhere((in_buffer() != before).any(axis=2))
    finally:
        Window.canvas.remove(canvas)
    if not changed.size:
        return None
    (low, left), (high, right) = changed.min(axis=0), changed.max(axis=0) + 1
    return int(left), int(low), int(right), int(high)


def holds(reach: tuple[float, ...], pixels: tuple[int, int, int, int] | None) -> bool:
    """Whether what was drawn lies within, but for the pixel that an edge may share."""
    if pixels is None:
        return True
    left, low, right, high = pixels
    return reach[0] - 1 <= left and reach[1] - 1 <= low and right <= reach[2] + 1 and high <= reach[3] + 1


@given(
    points=_POINTS,
    width=st.sampled_from([1.0, 1.2, 3.0, 9.0]),
    joint=st.sampled_from(["round", "miter", "bevel", "none"]),
    cap=st.sampled_from(["round", "square", "none"]),
    close=st.booleans(),
)
@example(points=[(100, 100), (300, 104), (100, 108)], width=9.0, joint="miter", cap="none", close=False)
@example(points=[(100, 100), (300, 104), (100, 108)], width=9.0, joint="miter", cap="none", close=True)
@some_of_all(60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_line_draws_where_it_is_said_to(screen, points, width, joint, cap, close) -> None:
    line = Line(points=[part for point in points for part in point], width=width, joint=joint, cap=cap, close=close)
    pixels = inked(line)
    assert holds(reach_of(Color(*INK), line), pixels)


@pytest.mark.parametrize(
    "one",
    [
        Rectangle(pos=(100, 50), size=(-40, 30)),
        Ellipse(pos=(100, 50), size=(40, 30)),
        Line(circle=(200, 150, 40), width=3),
        Line(rounded_rectangle=(100, 100, 80, 60, 12), width=2),
        Mesh(vertices=[100, 50, 0, 0, 160, 70, 0, 0, 90, 120, 0, 0], indices=[0, 1, 2], mode="triangles"),
    ],
    ids=lambda one: type(one).__name__,
)
def test_shapes_draw_where_they_are_said_to(screen, one) -> None:
    pixels = inked(one)
    assert pixels is not None
    reach = reach_of(Color(*INK), one)
    assert holds(reach, pixels)
    assert (reach[2] - reach[0]) * (reach[3] - reach[1]) < 140 * 140


def test_what_is_moved_draws_where_it_was_moved_to(screen) -> None:
    box = Rectangle(pos=(10, 20), size=(30, 40))
    moved = reach_of(PushMatrix(), Translate(100, 50, 0), Color(*INK), box, PopMatrix())
    assert moved == (110, 70, 140, 110)


def test_what_moves_all_that_follows_draws_nothing_and_moves_it(screen) -> None:
    canvas, begin, shown, end = Canvas(), InstructionGroup(), InstructionGroup(), InstructionGroup()
    for group, instructions in (
        (begin, (PushMatrix(), Translate(100, 50, 0))),
        (shown, (Color(*INK), Rectangle(pos=(10, 20), size=(30, 40)))),
        (end, (PopMatrix(),)),
    ):
        for one in instructions:
            group.add(one)
        canvas.add(group)
    assert reaches(canvas, [canvas]) == {begin: None, shown: ((110, 70, 140, 110),), end: None}


def test_a_group_draws_where_each_of_its_parts_does_and_not_between(screen) -> None:
    canvas, group, unseen = Canvas(), InstructionGroup(), Canvas(opacity=0.0)
    for one in (
        Color(*INK),
        Rectangle(pos=(10, 20), size=(30, 40)),
        Rectangle(pos=(300, 200), size=(30, 40)),
        Rectangle(pos=(200, 200), size=(0, 40)),
    ):
        group.add(one)
    for one in (Color(*INK), Rectangle(pos=(200, 20), size=(30, 40))):
        unseen.add(one)
    group.add(unseen)
    canvas.add(group)
    there = [place for place in reaches(canvas, [canvas])[group] if place != NOWHERE]
    assert there == [(10, 20, 40, 60), (300, 200, 330, 240)]


@pytest.mark.parametrize(
    "instructions",
    [
        lambda: [Rectangle(pos=(10, 20), size=(30, 40)), Color(*INK)],
        lambda: [Color(*INK), PushMatrix(), Rotate(angle=30), Rectangle(size=(30, 40)), PopMatrix()],
        lambda: [PopMatrix(), Color(*INK), Rectangle(size=(30, 40))],
        lambda: [PushMatrix(), Translate(3, 4, 0), Color(*INK), Rectangle(size=(30, 40))],
    ],
    ids=["in another's colour", "turned", "moved by another", "moves another"],
)
def test_nothing_is_told_of_what_is_not_certain(screen, instructions) -> None:
    assert reach_of(*instructions()) is None


def test_what_draws_nothing_is_nowhere(screen) -> None:
    assert reach_of(Color(*INK)) == NOWHERE == union([])


@pytest.mark.parametrize(
    ("scene", "name"), [("edges", "bench"), ("first", "bench"), ("set", "correct"), ("inside", "correct")]
)
def test_no_group_of_a_screen_draws_beyond_its_reach(screen, scene: str, name: str) -> None:
    """Every group beside the way is left out in turn: no pixel outside changes by it."""
    screen.show(SCENES[scene]())
    screen.go(name)
    move(screen, 119.9)
    screen.frames(2)
    way = screen.app._repaint._way
    found = reaches(way.groups[0], way.groups)
    assert found, "where jaws move it can be told"
    Window.on_draw()
    whole = in_buffer()
    for group, children in zip(way.groups, way.children, strict=True):
        for child in children:
            if found.get(child) is None:
                continue
            kept = group.children
            group.children = [one for one in children if one is not child]
            try:
                Window.on_draw()
            finally:
                group.children = kept
            changed = (in_buffer() != whole).any(axis=2)
            for left, low, right, high in found[child]:
                # But for the pixel that an edge may share.
                if left < right and low < high:
                    changed[max(0, floor(low - 1)) : ceil(high + 1), max(0, floor(left - 1)) : ceil(right + 1)] = False
            assert not changed.any(), (found[child], np.argwhere(changed)[:3])

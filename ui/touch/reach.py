"""How far groups of Kivy's instructions draw, so that a frame drawn in part leaves out those that draw elsewhere.

Told only where it is certain: every instruction is of a kind that says where it draws or draws nothing, and every group
sets its colour before it draws, so that none depends on what another has left behind.
"""

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from itertools import pairwise

from kivy.graphics import Color, Ellipse, Line, Mesh, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.graphics.context_instructions import BindTexture
from kivy.graphics.instructions import Canvas, CanvasBase, Instruction, InstructionGroup

from ui.touch.widgets.basics import Bounds

NOWHERE: Bounds = (float("inf"), float("inf"), float("-inf"), float("-inf"))
EVERYWHERE: Bounds = (float("-inf"), float("-inf"), float("inf"), float("inf"))
Places = tuple[Bounds, ...]
ANYWHERE: Places = (EVERYWHERE,)
# None: it draws nothing, and moves what comes behind it.
Reaches = Mapping[InstructionGroup, Places | None]
SMOOTHED_PX = 1.0
NO_MITRE = 1e-6  # as good as everywhere: a line that turns back upon itself
MESH_NUMBERS = 4  # of each corner: its place in the window, then that in the texture


class _UntoldError(Exception):
    """An instruction of another kind, one that draws in a colour that its group has not set, or a group that draws and
    moves what comes behind it."""


def reaches(canvas: InstructionGroup, way: Collection[InstructionGroup]) -> Reaches:
    """Where each group beside the way draws in the window, px. Empty where that cannot be told. What has changed must
    have been drawn once: a line finds its corners then."""
    try:
        return dict(_Walk(way).through(canvas))
    except _UntoldError:
        return {}


def union(bounds: Iterable[Bounds]) -> Bounds:
    """What holds all of them, NOWHERE where there is none."""
    lefts, lows, rights, highs = zip(NOWHERE, *bounds, strict=True)
    return min(lefts), min(lows), max(rights), max(highs)


class _Walk:
    """Meets all instructions in the order in which they are drawn."""

    def __init__(self, way: Collection[InstructionGroup]) -> None:
        self._way = frozenset(way)
        self._x = self._y = 0.0
        self._kept: list[tuple[float, float]] = []
        self._coloured = False

    def through(self, group: InstructionGroup) -> Iterator[tuple[InstructionGroup, Places | None]]:
        """Every group beside the way, and where it draws."""
        for child in group.children:
            if child in self._way:
                yield from self.through(child)
                continue
            before, self._coloured = (self._x, self._y, len(self._kept)), False
            places = tuple(self._drawn(child))
            moves = before != (self._x, self._y, len(self._kept))
            if moves and places:
                raise _UntoldError
            yield child, None if moves else places

    def _drawn(self, group: InstructionGroup) -> Iterator[Bounds]:
        for one in group.children:
            kind = type(one)
            if kind in _GROUPS:
                within = tuple(self._drawn(one))
                if kind is not Canvas or one.opacity:  # what cannot be seen may yet move what comes behind it
                    yield from within
            elif kind is Color:
                self._coloured = True
            elif kind is PushMatrix:
                self._kept.append((self._x, self._y))
            elif kind is PopMatrix and self._kept:
                self._x, self._y = self._kept.pop()
            elif kind is Translate:
                self._x, self._y = self._x + one.x, self._y + one.y
            elif kind is not BindTexture:
                if kind not in _EXTENTS or not self._coloured:
                    raise _UntoldError
                left, low, right, high = _EXTENTS[kind](one)
                yield left + self._x, low + self._y, right + self._x, high + self._y


def _of_box(one: Rectangle | Ellipse) -> Bounds:
    (x, y), (wide, high) = one.pos, one.size
    if not (wide and high):
        return NOWHERE
    return min(x, x + wide), min(y, y + high), max(x, x + wide), max(y, y + high)


def _of_line(one: Line) -> Bounds:
    points = one.points + one.points[:4] if one.close else one.points
    left, low, right, high = _of_corners(points[0::2], points[1::2])
    # Kivy's width is half of it. A square end stands out as far as its own corners do.
    beyond = SMOOTHED_PX + one.width * max(math.sqrt(2.0), _mitre(points) if one.joint == "miter" else 1.0)
    return left - beyond, low - beyond, right + beyond, high + beyond


def _mitre(points: list[float]) -> float:
    """How far the sharpest corner of a line stands out, in halves of its breadth: 1 / cos(turn / 2)."""
    corners = list(map(complex, points[0::2], points[1::2]))
    sides = [end - begin for begin, end in pairwise(corners) if end != begin]
    turns = (then / side for side, then in pairwise(sides))
    halves = (math.atan2(turn.imag, turn.real) / 2.0 for turn in turns)
    return max((1.0 / max(math.cos(half), NO_MITRE) for half in halves), default=1.0)


def _of_mesh(one: Mesh) -> Bounds:
    return _of_corners(one.vertices[0::MESH_NUMBERS], one.vertices[1::MESH_NUMBERS])


def _of_corners(along: list[float], up: list[float]) -> Bounds:
    return (min(along), min(up), max(along), max(up)) if along else NOWHERE


_GROUPS = {InstructionGroup, CanvasBase, Canvas}
_EXTENTS: dict[type[Instruction], Callable[..., Bounds]] = {
    Rectangle: _of_box,
    Ellipse: _of_box,
    Line: _of_line,
    Mesh: _of_mesh,
}

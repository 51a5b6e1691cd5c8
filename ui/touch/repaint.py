"""Draws anew only the part of the window in which something has changed, where that is known for certain.

Jaws move fifty times a second, the rest of the sheet stands still: a frame in which nothing has changed but widgets
that say how far they reach (`Bounded`) is drawn within their bounds, by the same instructions in the same order, cut
off by the graphics system. Whatever else changes, whatever cannot be told: the whole window, as Kivy draws it. And a
second behind the first frame in part comes a whole one, so that what this rule might miss does not stand for long.

A group of Kivy's instructions is flagged when something in it has changed until it is drawn. So nothing else has
changed where, from the window's canvas down to the bounded widgets, each group holds the same groups as before, as
opaque, and of those beside the way none is flagged. An instruction on that way itself would not be seen to change
(colours stay flagged for ever): where one is, the window is always drawn whole.
"""

import math
from collections import deque
from collections.abc import Iterable, Mapping
from itertools import islice
from operator import attrgetter

from kivy.clock import Clock, ClockEvent
from kivy.core.window import Window
from kivy.graphics.instructions import Canvas, InstructionGroup
from kivy.graphics.opengl import GL_SCISSOR_TEST, glDisable, glEnable, glScissor
from msgspec import Struct, field

from ui.touch.buffer_age import buffer_age
from ui.touch.widgets.basics import Bounded, Bounds

# Buffers that a graphics system turns between, at most; one that is older is drawn whole.
KEPT_FRAMES = 8
# No pixel stays longer that is not what drawing everything makes.
WHOLE_AFTER_S = 1.0
NOWHERE: Bounds = (math.inf, math.inf, -math.inf, -math.inf)
EVERYWHERE: Bounds = (-math.inf, -math.inf, math.inf, math.inf)


def union(bounds: Iterable[Bounds]) -> Bounds:
    """What holds all of them, of which there is one at least."""
    lefts, lows, rights, highs = zip(*bounds, strict=True)
    return min(lefts), min(lows), max(rights), max(highs)


class Damage:
    """Where the last frames differ from those before them."""

    def __init__(self) -> None:
        self._frames: deque[Bounds] = deque(maxlen=KEPT_FRAMES)

    def add(self, changed: Bounds, age: int) -> Bounds:
        """One frame more, changed there, for a buffer that holds the picture of `age` frames ago (0: none); where it
        is to be drawn."""
        self._frames.appendleft(changed)
        if not 0 < age <= len(self._frames):
            return EVERYWHERE
        return union(islice(self._frames, age))


class Way(Struct):
    """The groups of instructions on the way to the bounded widgets, each before those in it, as they were drawn; the
    groups beside it stand still. `places` are those groups, then the widgets' canvases, and `parents` of each its group
    among them. What follows from which places are flagged is worked out once (`known`)."""

    groups: list[InstructionGroup] = field(default_factory=list)
    children: list[list[object]] = field(default_factory=list)
    canvases: list[Canvas] = field(default_factory=list)
    opacities: list[float] = field(default_factory=list)
    still: list[InstructionGroup] = field(default_factory=list)
    widgets: list[Bounded] = field(default_factory=list)
    places: list[InstructionGroup] = field(default_factory=list)
    parents: list[int] = field(default_factory=list)
    known: dict[tuple[bool, ...], list[Bounded]] = field(default_factory=dict)


_is_flagged, _children, _opacity = attrgetter("needs_redraw"), attrgetter("children"), attrgetter("opacity")


def way_through(canvas: Canvas, of_canvas: Mapping[InstructionGroup, Bounded]) -> Way:
    """The way from a canvas to the bounded widgets below it, empty where there is none that can be told from flags."""
    leading, way = _leading(canvas, of_canvas), Way()
    waiting = [(canvas, -1)] if canvas in leading else []
    bounded: list[tuple[InstructionGroup, int]] = []
    while waiting:
        group, parent = waiting.pop()
        place, children = len(way.groups), list(group.children)
        way.groups.append(group)
        way.children.append(children)
        way.parents.append(parent)
        for child in children:
            if child in of_canvas:
                bounded.append((child, place))
            elif child in leading:
                waiting.append((child, place))
            else:
                way.still.append(child)
    way.canvases = [group for group in way.groups if isinstance(group, Canvas)]
    way.opacities = list(map(_opacity, way.canvases))
    way.widgets = [of_canvas[child] for child, _ in bounded]
    way.places = [*way.groups, *(child for child, _ in bounded)]
    way.parents += [place for _, place in bounded]
    return way


def _leading(group: InstructionGroup, of_canvas: Mapping[InstructionGroup, Bounded]) -> set[InstructionGroup]:
    """Of a group and those in it, all that hold groups alone and lead to a bounded widget."""
    children = group.children
    if not all(isinstance(child, InstructionGroup) for child in children):
        return set()
    leading: set[InstructionGroup] = set()
    for child in children:
        if child not in of_canvas:
            leading |= _leading(child, of_canvas)
    if any(child in of_canvas or child in leading for child in children):
        leading.add(group)
    return leading


def moved(way: Way) -> list[Bounded]:
    """The bounded widgets that have changed since a flagged way was learnt, none where something else has."""
    if (
        list(map(_children, way.groups)) != way.children
        or list(map(_opacity, way.canvases)) != way.opacities
        or any(map(_is_flagged, way.still))
    ):
        return []
    flags = tuple(map(_is_flagged, way.places))
    found = way.known.get(flags)
    if found is None:
        found = way.known[flags] = _explained(way, flags)
    return found


def _explained(way: Way, flags: tuple[bool, ...]) -> list[Bounded]:
    """The flagged widgets; none where a group is flagged and nothing in it is: somebody wants it drawn anew."""
    flagged = [place for place, flag in enumerate(flags) if flag]
    explained, first = {way.parents[place] for place in flagged}, len(way.groups)
    if not explained.issuperset(place for place in flagged if place < first):
        return []
    return [way.widgets[place - first] for place in flagged if place >= first]


class Repaint:
    """Answers the window's `on_draw` for the frames that can be drawn in part."""

    def __init__(self) -> None:
        self._way = Way()
        self._bounds: dict[Bounded, Bounds] = {}
        self._shifts: dict[Bounded, tuple[float, float]] = {}
        self._ground: tuple[object, ...] = ()
        self._damage = Damage()
        self._whole_due: ClockEvent | None = None

    def stop(self) -> None:
        """No frame comes any more."""
        if self._whole_due is not None:
            self._whole_due.cancel()

    def draw(self, _window: object) -> bool:
        """Draw what has changed and say True, which ends the event; or leave the whole to the window."""
        drawn = self._damage.add(self._changed(), buffer_age())
        if drawn == EVERYWHERE:
            return False
        if self._whole_due is None:
            self._whole_due = Clock.schedule_once(self._draw_whole, WHOLE_AFTER_S)
        _clip(drawn)
        glEnable(GL_SCISSOR_TEST)
        try:
            Window.on_draw()
        finally:
            glDisable(GL_SCISSOR_TEST)
        return True

    def _draw_whole(self, _elapsed_s: float) -> None:
        self._whole_due, self._way = None, Way()
        Window.canvas.ask_update()

    def _changed(self) -> Bounds:
        """Where the window differs from the last frame, EVERYWHERE where that cannot be told."""
        # The matrices, not the window's rotation: it may say another turn some frames before they do.
        ground = tuple(Window.size), Window.render_context["modelview_mat"].tolist(), tuple(Window.clearcolor)
        way = self._way if ground == self._ground else Way()
        if way.groups and not way.groups[0].needs_redraw:
            return NOWHERE
        widgets = moved(way)
        if not widgets:
            self._learn()
            self._ground = ground
            return EVERYWHERE
        before = [self._bounds[widget] for widget in widgets]
        now = [self._in_window(widget) for widget in widgets]
        self._bounds.update(zip(widgets, now, strict=True))
        return union(before + now)

    def _learn(self) -> None:
        shown = [one for root in Window.children for one in root.walk() if isinstance(one, Bounded)]
        self._way = way_through(Window.canvas, {one.canvas: one for one in shown})
        # What lies around a widget moves by instructions beside the way: they hold until all is learnt anew.
        self._shifts = {one: one.to_window(0.0, 0.0) for one in shown}
        self._bounds = {one: self._in_window(one) for one in shown}

    def _in_window(self, widget: Bounded) -> Bounds:
        left, low, right, high = widget.bounds
        along, up = self._shifts[widget]
        return left + along, low + up, right + along, high + up


def _clip(bounds: Bounds) -> None:
    """Let nothing be drawn outside, on the panel as it is turned."""
    turn = Window.render_context["modelview_mat"]
    ends = [turn.transform_point(x, y, 0.0) for x, y in (bounds[:2], bounds[2:])]
    left, right = sorted(end[0] for end in ends)
    low, high = sorted(end[1] for end in ends)
    # A pixel more on each side: a smoothed edge.
    x, y = max(0, math.floor(left) - 1), max(0, math.floor(low) - 1)
    glScissor(x, y, max(0, math.ceil(right) + 1 - x), max(0, math.ceil(high) + 1 - y))

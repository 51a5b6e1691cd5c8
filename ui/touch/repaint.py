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


def union(one: Bounds, other: Bounds) -> Bounds:
    """What holds both."""
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])


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
        drawn = NOWHERE
        for frame in list(self._frames)[:age]:
            drawn = union(drawn, frame)
        return drawn


class Way(Struct):
    """A group of instructions with bounded widgets below it, as it was drawn."""

    group: InstructionGroup
    opacity: float
    children: list[object]
    bounded: list[tuple[Bounded, InstructionGroup]] = field(default_factory=list)
    ways: list["Way"] = field(default_factory=list)
    still: list[InstructionGroup] = field(default_factory=list)


def way_through(group: InstructionGroup, of_canvas: dict[InstructionGroup, Bounded]) -> Way | None:
    """The way to the bounded widgets below a group, None where there is none that can be told from its flags."""
    way = Way(group, _opacity(group), list(group.children))
    for child in way.children:
        if not isinstance(child, InstructionGroup):
            return None
        if (widget := of_canvas.get(child)) is not None:
            way.bounded.append((widget, child))
        elif (below := way_through(child, of_canvas)) is not None:
            way.ways.append(below)
        else:
            way.still.append(child)
    return way if way.bounded or way.ways else None


def _opacity(group: InstructionGroup) -> float:
    return group.opacity if isinstance(group, Canvas) else 1.0


_is_flagged = attrgetter("needs_redraw")


def moved(way: Way) -> list[Bounded] | None:
    """The bounded widgets that have changed since a flagged way was learnt, None where something else has."""
    group = way.group
    if group.children != way.children or _opacity(group) != way.opacity or any(map(_is_flagged, way.still)):
        return None
    found = [widget for widget, canvas in way.bounded if canvas.needs_redraw] if way.bounded else []
    for below in way.ways:
        if below.group.needs_redraw:
            if (more := moved(below)) is None:
                return None
            found += more
    # Flagged, and nothing in it is: somebody wants it drawn anew.
    return found or None


class Repaint:
    """Answers the window's `on_draw` for the frames that can be drawn in part."""

    def __init__(self) -> None:
        self._way: Way | None = None
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
        self._whole_due = self._way = None
        Window.canvas.ask_update()

    def _changed(self) -> Bounds:
        """Where the window differs from the last frame, EVERYWHERE where that cannot be told."""
        # The matrices, not the window's rotation: it may say another turn some frames before they do.
        ground = tuple(Window.size), Window.render_context["modelview_mat"].tolist(), tuple(Window.clearcolor)
        way = self._way if ground == self._ground else None
        if way is not None and not way.group.needs_redraw:
            return NOWHERE
        widgets = moved(way) if way is not None else None
        if widgets is None:
            self._learn()
            self._ground = ground
            return EVERYWHERE
        changed = NOWHERE
        for widget in widgets:
            was, now = self._bounds[widget], self._in_window(widget)
            changed = union(changed, now)
            if was != now:
                changed = union(changed, was)
                self._bounds[widget] = now
        return changed

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

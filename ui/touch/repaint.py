"""Draws anew only the part of the window in which something has changed, where that is known for certain.

Jaws move fifty times a second, the rest of the sheet stands still: a frame in which nothing has changed but widgets
that say how far they reach (`Bounded`) is drawn within their bounds, by the same instructions in the same order, cut
off by the graphics system; groups that are certain to draw elsewhere (`ui/touch/reach.py`) are left out. Whatever else
changes, whatever cannot be told: the whole window, as Kivy draws it. And a second behind the first frame in part at
most comes a whole one, so that what this rule might miss does not stand for long.

A group of Kivy's instructions is flagged when something in it has changed until it is drawn. So nothing else has
changed where, from the window's canvas down to the bounded widgets, each group holds the same groups as before, as
opaque, and of those beside the way none is flagged. An instruction on that way itself would not be seen to change
(colours stay flagged for ever): where one is, the window is always drawn whole.
"""

from collections import deque
from collections.abc import Callable, Mapping
from itertools import islice
from operator import attrgetter

from kivy.clock import Clock, ClockEvent
from kivy.core.window import Window
from kivy.graphics.instructions import Canvas, InstructionGroup
from kivy.graphics.opengl import GL_SCISSOR_TEST, glDisable, glEnable, glScissor
from kivy.graphics.transformation import Matrix
from msgspec import Struct, field

from ui.touch.buffer_age import told_age
from ui.touch.reach import EVERYWHERE, NOWHERE, Places, reaches, union
from ui.touch.widgets.basics import Bounded, Bounds

# Buffers that a graphics system turns between, at most; one that is older is drawn whole.
KEPT_FRAMES = 8
# No pixel stays longer that is not what drawing everything makes; a frame in which nothing moves is drawn whole from
# some time before, so that no number waits for it.
WHOLE_AFTER_S, QUIET_AFTER_S = 1.0, 0.8
Shift = tuple[float, float]
ANYWHERE: Places = (EVERYWHERE,)
UNMOVED: Shift = (0.0, 0.0)
# From the window to the panel as it is turned: x' = 0 x + 1 y + 2, y' = 3 x + 4 y + 5.
Turn = tuple[float, float, float, float, float, float]


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
        return changed if age == 1 else union(islice(self._frames, age))


class Way(Struct):
    """The groups of instructions on the way to the bounded widgets, each before those in it, as they were drawn; the
    groups beside it stand still. `places` are those groups, then the widgets' canvases, and `parents` of each its group
    among them. What follows from which places are flagged is worked out once (`known`)."""

    groups: list[InstructionGroup] = field(default_factory=list)
    children: list[list[InstructionGroup]] = field(default_factory=list)
    canvases: list[Canvas] = field(default_factory=list)
    opacities: list[float] = field(default_factory=list)
    still: list[InstructionGroup] = field(default_factory=list)
    widgets: list[Bounded] = field(default_factory=list)
    places: list[InstructionGroup] = field(default_factory=list)
    parents: list[int] = field(default_factory=list)
    known: dict[tuple[bool, ...], list[int]] = field(default_factory=dict)


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


def moved(way: Way) -> list[int]:
    """Which of the bounded widgets have changed since a flagged way was learnt, none where something else has."""
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


def _explained(way: Way, flags: tuple[bool, ...]) -> list[int]:
    """The flagged widgets; none where a group is flagged and nothing in it is: somebody wants it drawn anew."""
    flagged = [place for place, flag in enumerate(flags) if flag]
    explained, first = {way.parents[place] for place in flagged}, len(way.groups)
    if not explained.issuperset(place for place in flagged if place < first):
        return []
    return [place - first for place in flagged if place >= first]


class Part:
    """What is drawn where only some place of the window is: of each group on the way what reaches there, as `found`
    says where the groups beside it and the widgets draw. What `found` does not know of may draw anywhere."""

    def __init__(self, way: Way, found: Mapping[InstructionGroup, Places], place: Bounds) -> None:
        self.place = place
        self._groups: list[tuple[InstructionGroup, list[InstructionGroup], list[InstructionGroup]]] = []
        reach = dict(found)
        for group, children in zip(reversed(way.groups), reversed(way.children), strict=True):
            reach[group] = (union([one for child in children for one in reach.get(child, ANYWHERE)]),)
        for group, children in zip(way.groups, way.children, strict=True):
            reaching = [child for child in children if _any_meets(reach.get(child, ANYWHERE), place)]
            if _any_meets(reach[group], place) and len(reaching) < len(children):
                self._groups.append((group, group.children, reaching))

    def draw(self) -> None:
        """Draw it. Kivy is not told that the groups hold less meanwhile, for nothing has changed."""
        for group, _, reaching in self._groups:
            group.children = reaching
        try:
            Window.on_draw()
        finally:
            for group, whole, _ in self._groups:
                group.children = whole


def _any_meets(places: Places, other: Bounds) -> bool:
    # What is clipped is a pixel larger on each side, and begins with whole ones.
    left, low, right, high = other[0] - 2, other[1] - 2, other[2] + 2, other[3] + 2
    return any(one[0] < right and left < one[2] and one[1] < high and low < one[3] for one in places)


class Repaint:
    """Answers the window's `on_draw` for the frames that can be drawn in part."""

    def __init__(self) -> None:
        self._way = Way()
        self._drawn: list[tuple[Bounds, float]] = []  # bounds and opacity of the way's widgets, as they were drawn last
        self._shifts: list[Shift] = []  # from there to the window
        self._reaches: Mapping[InstructionGroup, Places] | None = None
        self._part: Part | None = None
        self._ground: tuple[object, ...] = ()
        self._turn: Turn = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        self._age: Callable[[], int] = lambda: 0
        self._damage = Damage()
        self._whole_due: ClockEvent | None = None
        self._latest_s = 0.0

    def stop(self) -> None:
        """No whole frame is wanted any more."""
        if self._whole_due is not None:
            self._whole_due.cancel()
            self._whole_due = None

    def draw(self, _window: object) -> bool:
        """Draw what has changed and say True, which ends the event; or leave the whole to the window."""
        drawn = self._damage.add(self._changed(), self._age())
        if drawn == EVERYWHERE:
            self.stop()
            return False
        if drawn == NOWHERE:
            return True
        if self._whole_due is None:
            self._latest_s = Clock.get_time() + WHOLE_AFTER_S
            self._whole_due = Clock.schedule_once(self._want_whole, QUIET_AFTER_S)
        part = self._part
        if part is None or not _holds(part.place, drawn):
            part = self._part = self._part_at(drawn if part is None else union((part.place, drawn)))
        _clip(drawn, self._turn)
        glEnable(GL_SCISSOR_TEST)
        try:
            part.draw()
        finally:
            glDisable(GL_SCISSOR_TEST)
        return True

    def _want_whole(self, _elapsed_s: float) -> None:
        """With every tick, until a whole frame came."""
        if Clock.get_time() >= self._latest_s:
            self._way = Way()
        Window.canvas.ask_update()
        self._whole_due = Clock.schedule_once(self._want_whole)

    def _changed(self) -> Bounds:
        """Where the window differs from the last frame, EVERYWHERE where that cannot be told."""
        # The matrices, not the window's rotation: it may say another turn some frames before they do. They are others
        # where anything about them is, its size as well.
        context = Window.render_context
        ground = context["modelview_mat"], context["projection_mat"], tuple(Window.clearcolor)
        way = self._way if ground == self._ground else Way()
        if way.groups and not way.groups[0].needs_redraw:
            return NOWHERE
        changed: list[Bounds] = []
        for number in moved(way):
            widget, before, shift = way.widgets[number], self._drawn[number], self._shifts[number]
            now, place = (widget.bounds, widget.opacity), widget.take_changed()
            if now != before:
                self._drawn[number], place = now, union((before[0], now[0]))
            elif place is None:
                place = now[0]
            changed.append(_shifted(place, shift) if shift != UNMOVED else place)
        if not changed:
            self._learn()
            self._ground, self._turn, self._age = ground, _turn_by(ground[0]), told_age()
            return EVERYWHERE
        return union(changed)

    def _learn(self) -> None:
        shown = {one.canvas: one for root in Window.children for one in root.walk() if isinstance(one, Bounded)}
        self._way = way_through(Window.canvas, shown)
        # What lies around a widget moves by instructions beside the way: they hold until all is learnt anew.
        self._shifts = [one.to_window(0.0, 0.0) for one in self._way.widgets]
        self._drawn = [(one.bounds, one.opacity) for one in self._way.widgets]
        self._reaches = self._part = None

    def _part_at(self, place: Bounds) -> Part:
        """What is drawn there."""
        if self._reaches is None:  # only now: a line has found its corners when it was drawn
            self._reaches = reaches(self._way.groups[0], self._way.groups)
        found = dict(self._reaches)
        if found:
            shown = ((_shifted(bounds, shift),) for (bounds, _), shift in zip(self._drawn, self._shifts, strict=True))
            found.update(zip(self._way.places[len(self._way.groups) :], shown, strict=True))
        return Part(self._way, found, place)


def _holds(one: Bounds, other: Bounds) -> bool:
    return one[0] <= other[0] and one[1] <= other[1] and one[2] >= other[2] and one[3] >= other[3]


def _shifted(bounds: Bounds, shift: Shift) -> Bounds:
    along, up = shift
    return bounds[0] + along, bounds[1] + up, bounds[2] + along, bounds[3] + up


def _turn_by(matrix: Matrix) -> Turn:
    (x, y, _), (xx, yx, _), (xy, yy, _) = (
        matrix.transform_point(*corner, 0.0) for corner in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    )
    return xx - x, xy - x, x, yx - y, yy - y, y


def _clip(bounds: Bounds, turn: Turn) -> None:
    """Let nothing be drawn outside, on the panel as it is turned."""
    (begin_x, begin_y, end_x, end_y), (xx, xy, x, yx, yy, y) = bounds, turn
    left, low = xx * begin_x + xy * begin_y + x, yx * begin_x + yy * begin_y + y
    right, high = xx * end_x + xy * end_y + x, yx * end_x + yy * end_y + y
    if left > right:
        left, right = right, left
    if low > high:
        low, high = high, low
    # A pixel more on each side: a smoothed edge.
    first_x, first_y = int(left) - 1, int(low) - 1
    glScissor(first_x, first_y, int(right) + 2 - first_x, int(high) + 2 - first_y)

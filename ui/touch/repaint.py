"""Draws anew only the part of the window in which something has changed, where that is known for certain.

Jaws move fifty times a second, the rest of the sheet stands still: a frame in which nothing has changed but widgets
that say how far they reach (`Bounded`) is drawn in the bands in which they have changed, by the same instructions in
the same order, cut off by the graphics system; groups that are certain to draw elsewhere (`ui/touch/reach.py`) are left
out. Whatever else changes, whatever cannot be told: the whole window, as Kivy draws it. And a second behind the first
frame in part at most comes a whole one, so that what this rule might miss does not stand for long.

A group of Kivy's instructions is flagged when something in it has changed until it is drawn. So nothing else has
changed where, from the window's canvas down to the bounded widgets, each group holds the same groups as before, as
opaque, and of those beside the way none is flagged. An instruction on that way itself would not be seen to change
(colours stay flagged for ever): where one is, the window is always drawn whole.
"""

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from itertools import chain, islice
from operator import attrgetter, itemgetter

from kivy.clock import Clock, ClockEvent
from kivy.core.window import Window
from kivy.graphics.instructions import Callback, Canvas, Instruction, InstructionGroup
from kivy.graphics.opengl import GL_COLOR_BUFFER_BIT, GL_SCISSOR_TEST, glClear, glDisable, glEnable, glScissor
from kivy.graphics.transformation import Matrix
from msgspec import Struct, field

from ui.touch.buffer_age import told_age
from ui.touch.reach import ANYWHERE, EVERYWHERE, Places, Reaches, reaches, union
from ui.touch.widgets.basics import Bounded, Bounds

# Buffers that a graphics system turns between, at most; one that is older is drawn whole.
KEPT_FRAMES = 8
# No pixel stays longer that is not what drawing everything makes; a frame in which nothing moves is drawn whole from
# some time before, so that no number waits for it.
WHOLE_AFTER_S, QUIET_AFTER_S = 1.0, 0.8
Shift = tuple[float, float]
UNMOVED: Shift = (0.0, 0.0)
# From the window to the panel as it is turned: x' = 0 x + 1 y + 2, y' = 3 x + 4 y + 5.
Turn = tuple[float, float, float, float, float, float]
UNTURNED: Turn = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)
Box = tuple[int, int, int, int]  # left, bottom, width and height on the panel, px
MOST_BANDS = 4
MOST_PLANS = 256  # then all are worked out again as they come
# What is clipped may reach so far beyond what was asked for, on each side: a pixel more, and whole ones.
BEYOND_PX = 2


class Damage:
    """Where the last frames differ from those before them."""

    def __init__(self) -> None:
        self._frames: deque[Places] = deque(maxlen=KEPT_FRAMES)

    def add(self, changed: Places, age: int) -> frozenset[Bounds]:
        """One frame more, changed there, for a buffer that holds the picture of `age` frames ago (0: none); where it is
        to be drawn."""
        self._frames.appendleft(changed)
        if not 0 < age <= len(self._frames):
            return frozenset(ANYWHERE)
        return frozenset(changed if age == 1 else chain.from_iterable(islice(self._frames, age)))


def bands(places: Iterable[Bounds]) -> Places:
    """All of these places, those that share any height as one, from the lowest on: what lies between is not drawn.
    More than MOST_BANDS are one."""
    found: list[Bounds] = []
    top = float("-inf")
    for place in sorted(places, key=_low):
        if place[1] < top + 2 * BEYOND_PX:
            found[-1] = union((found[-1], place))
        else:
            found.append(place)
        top = found[-1][3]
    return tuple(found) if len(found) <= MOST_BANDS else (union(found),)


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
    known: dict[tuple[bool, ...], list[int] | None] = field(default_factory=dict)


_low = itemgetter(1)
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


def moved(way: Way) -> list[int] | None:
    """Which of the bounded widgets have changed since a flagged way was learnt, none where it is only asked for; None
    where something else has changed."""
    if (
        not way.groups
        or list(map(_children, way.groups)) != way.children
        or list(map(_opacity, way.canvases)) != way.opacities
        or any(map(_is_flagged, way.still))
    ):
        return None
    flags = tuple(map(_is_flagged, way.places))
    if flags not in way.known:
        way.known[flags] = _explained(way, flags)
    return way.known[flags]


def _explained(way: Way, flags: tuple[bool, ...]) -> list[int] | None:
    """The flagged widgets, none where the window is flagged alone: somebody wants it drawn anew. None where another
    group is and nothing in it."""
    flagged = [place for place, flag in enumerate(flags) if flag]
    explained, first = {way.parents[place] for place in flagged}, len(way.groups)
    if flagged != [0] and not explained.issuperset(place for place in flagged if place < first):
        return None
    return [place - first for place in flagged if place >= first]


class Part:
    """What is drawn where only some bands of the window are: of each group on the way what reaches into one of them, as
    `found` says where the groups beside it and the widgets draw. What `found` does not know of may draw anywhere.

    All is met once, in its order, and each is cut off at the band it reaches into, or drawn in one after the other: the
    bands have nothing in common, so nothing is laid over itself."""

    def __init__(self, way: Way, found: Reaches, covers: Places) -> None:
        self.covers = covers  # each holds its band
        self._boxes: list[Box] = []
        self._chosen: list[tuple[InstructionGroup, list[Instruction]]] = []
        self._whole: list[tuple[InstructionGroup, list[InstructionGroup]]] = []
        self._clips = [Callback(partial(self._clip, number)) for number in range(len(covers))]
        self._clipped = 0
        self._way, self._found = dict(zip(way.groups, way.children, strict=True)), found
        self._choose(way.groups[0], [Callback(self._clear)] if len(covers) > 1 else [])

    def draw(self, boxes: list[Box]) -> None:
        """Draw it in these bands. Kivy is not told that the groups hold less meanwhile, for nothing has changed."""
        self._boxes = boxes
        glScissor(*boxes[0])
        for group, chosen in self._chosen:
            group.children = chosen
        glEnable(GL_SCISSOR_TEST)
        try:
            Window.on_draw()
        finally:
            glDisable(GL_SCISSOR_TEST)
            for group, whole in self._whole:
                group.children = whole

    def _choose(self, group: InstructionGroup, chosen: list[Instruction]) -> bool:
        """Of a group on the way what reaches into any band; whether anything does."""
        children = self._way[group]
        for child in children:
            if child in self._way:
                if self._choose(child, []):
                    chosen.append(child)
                continue
            places = self._found.get(child, ANYWHERE)
            if places is None:
                chosen.append(child)
                continue
            for number, cover in enumerate(self.covers):
                if _any_meets(places, cover):
                    if number != self._clipped:
                        chosen.append(self._clips[number])
                        self._clipped = number
                    chosen.append(child)
        if chosen and chosen != children:
            self._chosen.append((group, chosen))
            self._whole.append((group, group.children))
        return bool(chosen)

    def _clip(self, number: int, _instruction: Callback) -> None:
        glScissor(*self._boxes[number])

    def _clear(self, _instruction: Callback) -> None:
        """The window has cleared the first band."""
        for box in self._boxes[1:]:
            glScissor(*box)
            glClear(GL_COLOR_BUFFER_BIT)
        glScissor(*self._boxes[0])


def _any_meets(places: Places, other: Bounds) -> bool:
    left, low, right, high = other[0] - BEYOND_PX, other[1] - BEYOND_PX, other[2] + BEYOND_PX, other[3] + BEYOND_PX
    return any(one[0] < right and left < one[2] and one[1] < high and low < one[3] for one in places)


class Repaint:
    """Answers the window's `on_draw` for the frames that can be drawn in part."""

    def __init__(self) -> None:
        self._way = Way()
        self._drawn: list[tuple[Bounds, float]] = []  # bounds and opacity of the way's widgets, as they were drawn last
        self._shifts: list[Shift] = []  # from there to the window
        self._reaches: Reaches | None = None
        self._parts: dict[int, Part] = {}  # by the number of bands
        self._plans: dict[frozenset[Bounds], tuple[Part, list[Box]]] = {}  # for jaws come to the same places again
        self._ground: tuple[object, ...] = ()
        self._turn = UNTURNED
        self._age: Callable[[], int] = lambda: 0
        self._damage = Damage()
        self._whole_due: ClockEvent | None = None
        self._latest_s = 0.0
        self._wants_whole = False

    def stop(self) -> None:
        """No whole frame is wanted any more."""
        if self._whole_due is not None:
            self._whole_due.cancel()
            self._whole_due = None

    def draw(self, _window: object) -> bool:
        """Draw what has changed and say True, which ends the event; or leave the whole to the window."""
        changed = self._changed()
        if self._wants_whole:
            changed, self._wants_whole = ANYWHERE, False
        drawn = self._damage.add(changed, self._age())
        if EVERYWHERE in drawn:
            self.stop()
            return False
        if not drawn:
            return True
        if self._whole_due is None:
            self._latest_s = Clock.get_time() + WHOLE_AFTER_S
            self._whole_due = Clock.schedule_once(self._want_whole, QUIET_AFTER_S)
        part, boxes = self._plans.get(drawn) or self._planned(drawn)
        part.draw(boxes)
        return True

    def _planned(self, drawn: frozenset[Bounds]) -> tuple[Part, list[Box]]:
        """What is drawn there, and each band of it as it lies on the panel."""
        found = bands(drawn)
        if len(found) > 1 and not self._told():
            found = (union(found),)
        part = self._parts.get(len(found))
        if part is None or not all(map(_holds, part.covers, found)):
            covers = found if part is None else map(union, zip(part.covers, found, strict=True))
            part = self._parts[len(found)] = self._part_at(covers)
        if len(self._plans) >= MOST_PLANS:
            self._plans.clear()
        plan = self._plans[drawn] = part, [_box(band, self._turn) for band in found]
        return plan

    def _want_whole(self, _elapsed_s: float) -> None:
        """With every tick, until a whole frame came."""
        if Clock.get_time() >= self._latest_s:
            self._wants_whole = True
        Window.canvas.ask_update()
        self._whole_due = Clock.schedule_once(self._want_whole)

    def _changed(self) -> Places:
        """Where the window differs from the last frame, ANYWHERE where that cannot be told."""
        # The matrices, not the window's rotation: it may say another turn some frames before they do. They are others
        # where anything about them is, its size as well.
        context = Window.render_context
        ground = context["modelview_mat"], context["projection_mat"], tuple(Window.clearcolor)
        way = self._way if ground == self._ground else Way()
        if way.groups and not way.groups[0].needs_redraw:
            return ()
        found = moved(way)
        if found is None:
            self._learn()
            self._ground, self._turn, self._age = ground, _turn_by(ground[0]), told_age()
        if not found:
            return ANYWHERE
        changed: list[Bounds] = []
        for number in found:
            widget, before, shift = way.widgets[number], self._drawn[number], self._shifts[number]
            now, place = (widget.bounds, widget.opacity), widget.take_changed()
            if now != before:
                self._drawn[number], place = now, union((before[0], now[0]))
                self._parts, self._plans = {}, {}
            elif place is None:
                place = now[0]
            changed.append(_shifted(place, shift) if shift != UNMOVED else place)
        return tuple(changed)

    def _learn(self) -> None:
        shown = {one.canvas: one for root in Window.children for one in root.walk() if isinstance(one, Bounded)}
        self._way = way_through(Window.canvas, shown)
        # What lies around a widget moves by instructions beside the way: they hold until all is learnt anew.
        self._shifts = [one.to_window(0.0, 0.0) for one in self._way.widgets]
        self._drawn = [(one.bounds, one.opacity) for one in self._way.widgets]
        self._reaches, self._parts, self._plans = None, {}, {}

    def _told(self) -> Reaches:
        """Where the groups beside the way draw, where that can be told."""
        if self._reaches is None:  # only now: a line has found its corners when it was drawn
            self._reaches = reaches(self._way.groups[0], self._way.groups)
        return self._reaches

    def _part_at(self, covers: Iterable[Bounds]) -> Part:
        """What is drawn there, and beside it as far as the widgets there reach: with the next number it is another
        figure of them."""
        found = dict(self._told())
        shown = [_shifted(bounds, shift) for (bounds, _), shift in zip(self._drawn, self._shifts, strict=True)]
        if found:
            found.update(zip(self._way.places[len(self._way.groups) :], ((one,) for one in shown), strict=True))
        return Part(self._way, found, tuple(_widened(cover, shown) for cover in covers))


def _widened(cover: Bounds, shown: Iterable[Bounds]) -> Bounds:
    left, _, right, _ = union([cover, *(one for one in shown if _any_meets((one,), cover))])
    return left, cover[1], right, cover[3]


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


def _box(bounds: Bounds, turn: Turn) -> Box:
    """Where it lies on the panel as it is turned."""
    left, low, right, high = bounds
    if turn != UNTURNED:
        xx, xy, x, yx, yy, y = turn
        left, right = sorted((xx * left + xy * low + x, xx * right + xy * high + x))
        low, high = sorted((yx * bounds[0] + yy * low + y, yx * bounds[2] + yy * high + y))
    # A pixel more on each side: a smoothed edge.
    begin, foot = int(left) - 1, int(low) - 1
    return begin, foot, int(right) + 2 - begin, int(high) + 2 - foot

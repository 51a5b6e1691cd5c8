"""The gantry being set, from above: the bed as it is seen from the front, the gantry turning with the calipers, one
arrow that says where to push now, and beside it the ladder of the way that is left.

Bed and ladder stand still while calipers say fifty numbers a second: they are drawn once, and the gantry, the arrow and
the ladder's pointer lie on them in a widget that says how far it reaches.
"""

from kivy.app import App
from kivy.graphics import Canvas, Color, Line
from kivy.properties import ObjectProperty
from msgspec.structs import replace

from core.said import said
from ui.pages.setting import Setting
from ui.pages.theme import Palette, Shape
from ui.touch.widgets.basics import Bounded, Bounds, Drawn
from ui.touch.widgets.gantry_drawing import Push, draw_bed, draw_push
from ui.touch.widgets.gantry_geometry import Box, GantryPlace, LadderPlace, Point, place_gantry, place_ladder
from ui.touch.widgets.lettering import write
from ui.touch.widgets.polygons import fill_polygon

# Of the 800 x 480 design.
_ARROW_PX = 86.0
_SHAFT_PX = 11.0
_HEAD_PX = 38.0
_HALF_HEAD_PX = 23.0
_GANTRY_PX = 18.0
_FRONT_EDGE_PX = 8.0
_FEET_PX = 58.0
_LADDER_PX = 150.0
_RUNGS = 8
# From the points that things are drawn about to their farthest corner: brackets, the arrow's head, the pointer's foot.
_ABOUT_PX = 42.0


class _Moving(Bounded):
    """What moves: drawn about the points last shown, nowhere else."""

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._points: list[Point] = []
        self._about_px = 0.0

    @property
    def bounds(self) -> Bounds:
        """Around its points."""
        if not self._points:
            return super().bounds
        along, up = zip(*self._points, strict=True)
        about = self._about_px
        return min(along) - about, min(up) - about, max(along) + about, max(up) + about

    def clear(self) -> None:
        """Nothing moves."""
        self.canvas.clear()
        self._points = []

    def draw(self, place: GantryPlace, rungs: LadderPlace | None, stage: Setting, palette: Palette) -> None:
        """The gantry on its way to the goal, and the pointer of a ladder."""
        self.canvas.clear()
        scale, way = App.get_running_app().scale, stage.way.vector
        self._about_px = _ABOUT_PX * scale
        self._points = [place.still, place.moving, place.goal if place.tip is None else place.tip]
        with self.canvas:
            _draw_gantry(place, palette, scale)
            if place.tip is None:
                _draw_brackets(place.goal, way, palette, scale)
            else:
                draw_push(place.moving, place.tip, _push(scale), palette)
            if rungs is not None:
                self._points.append(rungs.pointer)
                _draw_pointer(rungs.pointer, way, palette, scale)


class SettingStage(Drawn):
    """`stage` is a Setting; without one nothing is drawn."""

    shows = ("stage",)
    stage = ObjectProperty(None, allownone=True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._stands: tuple[object, ...] = ()
        self._still, self._moving = Canvas(), _Moving()
        self.canvas.add(self._still)
        self.add_widget(self._moving)
        self._redraw()

    def _redraw(self, *_changed: object) -> None:
        app, stage = App.get_running_app(), self.stage
        if stage is None or min(self.size) < 100:
            self._still.clear()
            self._moving.clear()
            self._stands = ()
            return
        scale = app.scale
        bed, ladder = _areas((self.x, self.y, self.width, self.height), stage, scale)
        place = place_gantry(
            bed, end=stage.end, way=stage.way, left=stage.left, inside=stage.inside, arrow_px=_ARROW_PX * scale
        )
        rungs = place_ladder(ladder, way=stage.way, left=stage.left, zone=stage.zone) if stage.live else None
        stands = bed, ladder, scale, app.palette, app.speech, replace(stage, left=0.0)
        if stands != self._stands:
            self._stands = stands
            self._draw_still(bed, rungs, app.palette, scale)
        self._moving.draw(place, rungs, stage, app.palette)

    def _draw_still(self, bed: Box, rungs: LadderPlace | None, palette: Palette, scale: float) -> None:
        self._still.clear()
        with self._still:
            draw_bed(bed, _FRONT_EDGE_PX * scale, palette)
            _draw_feet((bed[0] + bed[2] / 2, bed[1] - 30.0 * scale), palette, scale)
            if rungs is not None:
                _draw_ladder(rungs, self.stage.inside, self.stage.way.vector, palette, scale)


def _push(scale: float) -> Push:
    """Broad enough to be read from 1.5 m."""
    return Push(
        shaft=_SHAFT_PX * scale, head=_HEAD_PX * scale, half_head=_HALF_HEAD_PX * scale, clear=0.8 * _GANTRY_PX * scale
    )


def _areas(place: Box, stage: Setting, scale: float) -> tuple[Box, Box]:
    """The bed, and the ladder along the motion: at its right where ends go to and fro, below where they go sideways."""
    x, y, width, height = place
    foot, edge = _FEET_PX * scale, 44.0 * scale
    if stage.way.vector.real:
        strip = 78.0 * scale if stage.live else 0.0
        bed = (x + edge, y + foot + strip, width - 2 * edge, height - foot - strip - edge)
        return bed, (x + edge, y + 16.0 * scale, width - 2 * edge, strip)
    strip = _LADDER_PX * scale if stage.live else 0.0
    bed = (x + edge, y + foot, width - strip - 2 * edge, height - foot - edge)
    return bed, (x + width - strip + 18.0 * scale, y + foot * 0.5, 40.0 * scale, height - foot * 0.5 - edge)


def _draw_feet(middle: Point, palette: Palette, scale: float) -> None:
    """Two soles seen from above: here stands whoever reads this."""
    Color(*palette.quiet)
    for side in (-1.0, 1.0):
        x, y = middle[0] + side * 15.0 * scale, middle[1]
        Line(rounded_rectangle=(x - 8.0 * scale, y - 14.0 * scale, 16.0 * scale, 28.0 * scale, 8.0 * scale), width=1.6)
        Line(points=(x - 8.0 * scale, y - 4.0 * scale, x + 8.0 * scale, y - 4.0 * scale), width=1.4)


def _draw_gantry(place: GantryPlace, palette: Palette, scale: float) -> None:
    Color(*palette.ink)
    Line(points=(*place.still, *place.moving), width=_GANTRY_PX * scale / 2, cap="none")


def _draw_brackets(goal: Point, way: complex, palette: Palette, scale: float) -> None:
    """The end is where it belongs: held from both sides."""
    Color(*palette.lamp(Shape.DISC).fill)
    across = way * 1j * 22.0 * scale
    for side in (-1, 1):
        middle = complex(*goal) + side * way * 26.0 * scale
        hook = -side * way * 10.0 * scale
        points = [middle + across + hook, middle + across, middle - across, middle - across + hook]
        Line(points=[part for point in points for part in _xy(point)], width=3.2 * scale, cap="square", joint="miter")


def _draw_ladder(ladder: LadderPlace, inside: bool, way: complex, palette: Palette, scale: float) -> None:
    start, goal, beyond = (complex(*point) for point in (ladder.start, ladder.goal, ladder.beyond))
    across = way * 1j
    zone, half = way * max(ladder.half_zone_px, 5.0 * scale), across * 21.0 * scale
    Color(*palette.lamp(Shape.DISC).fill if inside else palette.zone)
    fill_polygon([_xy(goal - zone - half), _xy(goal + zone - half), _xy(goal + zone + half), _xy(goal - zone + half)])
    Color(*palette.ink)
    Line(points=(*_xy(start), *_xy(beyond)), width=1.6 * scale, cap="none")
    for rung in range(_RUNGS + 1):
        place = start + (beyond - start) * rung / _RUNGS
        reach = across * (14.0 if rung in (0, _RUNGS // 2, _RUNGS) else 8.0) * scale
        Line(points=(*_xy(place - reach), *_xy(place + reach)), width=1.4 * scale, cap="none")
    _letter_ladder((start, goal, beyond), bool(way.real), palette, scale)


def _draw_pointer(pointer: Point, way: complex, palette: Palette, scale: float) -> None:
    across = way * 1j
    tip = complex(*pointer) - across * (-4.0 if across.real < 0 or across.imag > 0 else 4.0) * scale
    side = -1 if across.real < 0 or across.imag > 0 else 1
    Color(*palette.accent)
    foot = tip - side * across * 30.0 * scale
    fill_polygon([_xy(tip), _xy(foot + way * 14.0 * scale), _xy(foot - way * 14.0 * scale)])


def _letter_ladder(marks: tuple[complex, complex, complex], lying: bool, palette: Palette, scale: float) -> None:
    """What the ends and the middle of the ladder are, at the side where the pointer is not."""
    Color(*palette.quiet)
    for words, mark in zip((said("start"), said("stop"), said("too far")), marks, strict=True):
        if lying:
            write(words, mark.real, mark.imag - 30.0 * scale, 17.0 * scale, centred=True)
        else:
            write(words, mark.real + 28.0 * scale, mark.imag, 18.0 * scale)


def _xy(point: complex) -> Point:
    return point.real, point.imag

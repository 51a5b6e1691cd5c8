"""The coupon as it is measured: what is next with its instrument on it, what was read as plain figures beside it.

Only what is next is blue, only what fails is red, the rest is thin. Every feature is a target for a finger.
"""

from kivy.app import App
from kivy.graphics import Color, Line, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.input.motionevent import MotionEvent
from kivy.properties import NumericProperty, ObjectProperty

from core.geometry import DIAGONALS, Feature, FeatureKind
from core.said import said
from ui.pages.bench import Figured, FigureValue
from ui.pages.theme import Colour, Palette
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.figure_geometry import ENDS, Figure, Point, least_area_height_px, place_figure
from ui.touch.widgets.lettering import write, written_width
from ui.touch.widgets.polygons import fill_polygon, fill_polygons


class CouponFigure(Drawn):
    """`shown` is a Figured; dispatches `on_choose` with the feature a finger meant."""

    __events__ = ("on_choose",)
    shows = ("shown",)
    shown = ObjectProperty(None, allownone=True)
    least_height = NumericProperty(0.0)  # below it a finger could not tell its features apart, px

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self.figure: Figure | None = None

    def on_choose(self, feature: Feature) -> None:
        """A feature was touched; screens bind to this."""

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Choose the feature under the finger."""
        if self.figure is None or touch.is_mouse_scrolling or not self.collide_point(*touch.pos):
            return super().on_touch_down(touch)
        feature = self.figure.target_at((touch.x - self.x, touch.y - self.y))
        if feature is not None:
            self.dispatch("on_choose", feature)
        return True

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        self.figure = None
        shown, app = self.shown, App.get_running_app()
        if shown is not None:
            self.least_height = least_area_height_px(shown.coupon, app.scale, app.target)
        if shown is None or min(self.size) < 100:
            return
        self.figure = place_figure(
            shown.coupon,
            tuple(self.size),
            depth_mm=shown.depth_mm,
            scale=app.scale,
            target_px=app.target,
            result=shown.next is None and shown.other is None,
            bare=not shown.values,
        )
        with self.canvas:
            PushMatrix()
            Translate(self.x, self.y)
            _draw_coupon(self.figure, app.palette)
            if shown.other is not None:
                _draw_other(self.figure, shown.other, app.palette)
            if shown.next is not None:
                _draw_instrument(self.figure, shown.next, app.palette)
            _draw_values(self.figure, shown, app.palette)
            PopMatrix()


def _draw_coupon(figure: Figure, palette: Palette) -> None:
    Color(*palette.panel)
    fill_polygon(figure.outline)
    Color(*palette.rule)
    for diagonal in DIAGONALS:
        start, end = figure.span(diagonal)
        Line(points=(*start, *end), width=1.0)
    Color(*palette.ink)
    Line(
        points=[part for point in figure.outline for part in point], close=True, width=1.6 * figure.scale, joint="miter"
    )
    if figure.window is not None:
        Line(rectangle=figure.window.opening, width=1.2 * figure.scale)
    x, y = figure.corner(Feature.NL)
    x, y = (
        x + (16.0 if figure.result else 70.0 if figure.window is None else 64.0) * figure.scale,
        y + 11.0 * figure.scale,
    )
    long_leg, short_leg = (30.0 if figure.window is None else 20.0) * figure.scale, 15.0 * figure.scale
    Line(points=(x, y + short_leg, x, y, x + long_leg, y), width=2.4 * figure.scale, cap="square", joint="miter")


_ONCE = said("once")


def _draw_values(figure: Figure, shown: Figured, palette: Palette) -> None:
    for value in shown.values:
        x, y = figure.value_at(value.feature, worn=bool(value.count) and value.feature in (shown.next, shown.other))
        corner = value.feature.kind is FeatureKind.CORNER
        size = ((19.0 if corner else 21.0) if value.count else 17.0) * figure.scale
        below_beam = shown.next in DIAGONALS and value.feature in ENDS[shown.next]
        on_opening = value.feature.kind is FeatureKind.WINDOW
        if value.count and (below_beam or on_opening or (figure.result and value.feature in DIAGONALS)):
            _clear_ground(written_width(value.text, size, bold=True), (x, y), size, palette)
        Color(*_ink_of(value, palette))
        write(value.text, x, y, size, bold=value.count > 0, centred=True)
        if value.count == 1 and value.feature.kind in (FeatureKind.EDGE, FeatureKind.DIAGONAL):
            _mark_once(value, (x, y), size, figure, palette)


def _clear_ground(width: float, place: Point, height: float, palette: Palette) -> None:
    """No line runs through the figure that stands on it."""
    Color(*palette.panel)
    Rectangle(pos=(place[0] - width / 2 - 2, place[1] - height / 2), size=(width + 4, height))


def _mark_once(value: FigureValue, place: Point, size: float, figure: Figure, palette: Palette) -> None:
    """A length that was read once is marked so: beside the figure where jaws lie below it, above it where the
    orientation mark does, else below it."""
    (x, y), scale = place, figure.scale
    above = value.feature is Feature.NR_FL and not figure.result and figure.window is None
    once_y = y + (18.0 if above else -18.0) * scale
    if value.feature in DIAGONALS:
        _clear_ground(written_width(_ONCE, 16.0 * scale), (x, once_y), 12.0 * scale, palette)
    Color(*palette.quiet)
    if value.feature in (Feature.NEAR, Feature.FAR):
        write(_ONCE, x + written_width(value.text, size, bold=True) / 2 + 6.0 * scale, y, 16.0 * scale)
    else:
        write(_ONCE, x, once_y, 16.0 * scale, centred=True)


def _ink_of(value: FigureValue, palette: Palette) -> Colour:
    if value.fails:
        return palette.failing
    return palette.ink if value.count else palette.quiet


def _draw_other(figure: Figure, feature: Feature, palette: Palette) -> None:
    """The instrument that is not in hand, thin."""
    Color(*palette.quiet)
    for bar in figure.jaws(feature):
        Line(points=[part for point in bar for part in point], close=True, width=1.0)


def _draw_instrument(figure: Figure, feature: Feature, palette: Palette) -> None:
    Color(*palette.accent)
    if feature.kind is not FeatureKind.CORNER:
        start, end = figure.span(feature)
        Line(points=(*start, *end), width=2.6 * figure.scale, cap="none")
    fill_polygons(figure.jaws(feature))

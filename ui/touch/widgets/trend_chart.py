"""A value of a machine's coupons over time: points with their U, the no-go limit as a band, the moving average between
its control limits, what was done as marks."""

from collections.abc import Callable

from kivy.app import App
from kivy.graphics import Color, Line, Rectangle
from kivy.properties import ObjectProperty

from core.machine import MarkKind
from core.records import MOST_LIMITS
from core.said import Angle, Number, Part, said
from ui.pages.history import Chart
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.lettering import write, written_width
from ui.touch.widgets.polygons import disc, fill_polygons, upright

FEW = 60  # coupons
TYPE_PX = 16.0
KEY_PX = 20.0  # at the foot, where what the lines are is written
CONTROL_WORDS = said("average and control limits")


def _written(value: float, sign: str) -> Part:
    """A value beside its line, in the person's notation."""
    decimals, signed = (2, True) if value else (0, False)
    if sign == "%":
        return said("{value} %", value=Number(value, decimals, signed=signed))
    return Angle(value, decimals, signed=signed)


def _beyond(tip: tuple[float, float], reach: float, is_up: bool) -> list[tuple[float, float]]:
    """A pointer at the edge, towards a value that lies outside of the chart."""
    x, y = tip
    foot = y - 2.0 * reach if is_up else y + 2.0 * reach
    return [(x - reach, foot), (x + reach, foot), (x, y)]


class TrendChart(Drawn):
    """Redrawn only when the chart, its place or the theme change."""

    shows = ("chart",)
    chart = ObjectProperty(Chart())

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        if min(self.size) < 60:
            return
        with self.canvas:
            self._draw()

    def _draw(self) -> None:
        app, chart = App.get_running_app(), self.chart
        palette, scale = app.palette, app.scale
        reaches = [abs(point.value) + point.u95 for point in chart.points]
        edges = [abs(edge) for c in chart.control for edge in (c.lower, c.upper)]
        # A limit is as long on every chart; without one the chart is as high as what is on it.
        highest = MOST_LIMITS * chart.limit if chart.limit else 1.15 * max([*reaches, *edges, 0.1])
        values = (chart.limit, 0.0, -chart.limit) if chart.limit else (0.0,)
        texts = [_written(value, chart.sign) for value in values]
        beside = max(written_width(text, TYPE_PX * scale) for text in texts) + 12.0 * scale
        left, width = self.x + beside, self.width - beside - 8.0 * scale
        middle, half = self.y + self.height / 2, self.height / 2 - 12.0 * scale

        def level(value: float) -> float:
            return middle + max(-1.0, min(1.0, value / highest)) * half

        def across(place: float) -> float:
            return left + (0.04 + 0.92 * place) * width

        Color(*palette.panel)
        Rectangle(pos=(left, middle - half), size=(width, 2 * half))
        if chart.limit is not None:
            Color(*palette.zone)
            band = level(chart.limit) - middle
            Rectangle(pos=(left, middle - band), size=(width, 2 * band))
        Color(*palette.ink)
        Line(rectangle=(left, middle - half, width, 2 * half), width=1.0)
        Line(points=(left, middle, left + width, middle), width=1.0)
        for value, text in zip(values, texts, strict=True):
            write(text, self.x + 4.0 * scale, level(value), TYPE_PX * scale)
        self._draw_marks(across, middle, half)
        # Many coupons stand close together: smaller dots keep them apart.
        radius = (4.5 if len(chart.points) <= FEW else 2.0) * scale
        outside = [point for point in chart.points if chart.limit and abs(point.value) > chart.limit]
        within = [point for point in chart.points if not chart.limit or abs(point.value) <= chart.limit]
        for points, ink in ((within, palette.ink), (outside, palette.failing)):
            Color(*ink)
            fill_polygons(
                _beyond((across(point.place), level(point.value)), 1.6 * radius, point.value > 0)
                if abs(point.value) > highest
                else disc((across(point.place), level(point.value)), radius)
                for point in points
            )
            fill_polygons(
                upright(across(point.place), level(point.value - point.u95), level(point.value + point.u95), 2.4)
                for point in points
            )
        # What other benches measured is a ring.
        Color(*palette.panel)
        elsewhere = [point for point in chart.points if point.elsewhere]
        fill_polygons(disc((across(point.place), level(point.value)), 0.6 * radius) for point in elsewhere)
        if len(chart.control) > 1:
            Color(*palette.quiet)
            for name, thick in (("lower", 1.0), ("upper", 1.0), ("average", 2.0)):
                at = [part for c in chart.control for part in (across(c.place), level(getattr(c, name)))]
                Line(points=at, width=thick * scale)
            write(CONTROL_WORDS, left + 6.0 * scale, middle - half + 10.0 * scale, TYPE_PX * scale)

    def _draw_marks(self, across: Callable[[float], float], middle: float, half: float) -> None:
        palette, scale = App.get_running_app().palette, App.get_running_app().scale
        for place, kind in self.chart.marks:
            corrected = kind is MarkKind.CORRECTION
            x = across(place)
            Color(*(palette.accent if corrected else palette.fitted))
            Line(points=(x, middle - half + KEY_PX * scale, x, middle + half), width=1.6 * scale)
            write(
                said("set") if corrected else said("upset"),
                x + 4.0 * scale,
                middle + half - 10.0 * scale,
                TYPE_PX * scale,
            )

"""The skew of a machine's coupons over time: points with their U, the limit as a band, what was done as marks."""

from __future__ import annotations

from kivy.app import App
from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from core.machine.history import MarkKind
from ui.history_view import Chart
from ui.widgets.lettering import write


class SkewChart(Widget):
    """Redrawn only when the chart, its place or the theme change."""

    chart = ObjectProperty(Chart())

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("chart", "pos", "size"):
            self.fbind(name, self._redraw)
        App.get_running_app().fbind("palette", self._redraw)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        if min(self.size) < 60:
            return
        with self.canvas:
            self._draw()

    def _draw(self) -> None:
        app, chart = App.get_running_app(), self.chart
        palette, scale = app.palette, app.scale
        reaches = [abs(point.skew_deg) + point.u95_deg for point in chart.points]
        highest = 1.15 * max([*reaches, chart.limit_deg or 0.0, 0.1])
        left, width = self.x + 62.0 * scale, self.width - 78.0 * scale
        middle, half = self.y + self.height / 2, self.height / 2 - 12.0 * scale

        def level(deg: float) -> float:
            return middle + deg / highest * half

        Color(*palette.panel)
        Rectangle(pos=(left, middle - half), size=(width, 2 * half))
        if chart.limit_deg is not None:
            Color(*palette.zone)
            band = level(chart.limit_deg) - middle
            Rectangle(pos=(left, middle - band), size=(width, 2 * band))
        Color(*palette.ink)
        Line(rectangle=(left, middle - half, width, 2 * half), width=1.0)
        Line(points=(left, middle, left + width, middle), width=1.0)
        for deg in (chart.limit_deg, 0.0, -chart.limit_deg) if chart.limit_deg else (0.0,):
            text = f"{deg:+.2f}°".replace("-", "−") if deg else "0°"
            write(text, self.x + 4.0 * scale, level(deg), 16.0 * scale)
        self._draw_marks(left, width, middle, half)
        Color(*palette.ink)
        radius = 4.5 * scale
        for point in chart.points:
            x, y = left + (0.04 + 0.92 * point.place) * width, level(point.skew_deg)
            Line(points=(x, level(point.skew_deg - point.u95_deg), x, level(point.skew_deg + point.u95_deg)), width=1.2)
            Ellipse(pos=(x - radius, y - radius), size=(2 * radius, 2 * radius))

    def _draw_marks(self, left: float, width: float, middle: float, half: float) -> None:
        palette, scale = App.get_running_app().palette, App.get_running_app().scale
        for place, kind in self.chart.marks:
            corrected = kind is MarkKind.CORRECTION
            x = left + (0.04 + 0.92 * place) * width
            Color(*(palette.accent if corrected else palette.fitted))
            Line(points=(x, middle - half, x, middle + half), width=1.6 * scale)
            write("set" if corrected else "upset", x + 4.0 * scale, middle + half - 10.0 * scale, 15.0 * scale)

"""The gantry seen from above, from the front of the machine: which end goes which way, and how far there is to go."""

from __future__ import annotations

from kivy.app import App
from kivy.graphics import Color, Line, Rectangle
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from core.machine.directions import Side
from ui.pages.correct import Move
from ui.pages.theme import Palette, Shape
from ui.touch.widgets.lettering import write
from ui.touch.widgets.polygons import Point, fill_polygon

LEAN_PX = 30.0


class GantrySheet(Widget):
    """`move` is drawn on the gantry, `meter` below it."""

    move = ObjectProperty(None, allownone=True)
    meter = ObjectProperty(None, allownone=True)
    inside_mm = NumericProperty(0.0)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("move", "meter", "inside_mm", "pos", "size"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(palette=self._redraw)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        app = App.get_running_app()
        if self.move is None or min(self.size) < 100:
            return
        with self.canvas:
            self._draw_gantry(self.move, app.palette, app.scale)
            if self.meter is not None:
                self._draw_meter(app.palette, app.scale)

    def _draw_gantry(self, move: Move, palette: Palette, scale: float) -> None:
        margin, foot = 46.0 * scale, 96.0 * scale
        left, bottom = self.x + margin, self.y + foot
        width, height = self.width - 2 * margin, self.height - foot - margin
        Color(*palette.panel)
        Rectangle(pos=(left, bottom), size=(width, height))
        Color(*palette.rule)
        Line(rectangle=(left, bottom, width, height), width=1.0)
        middle = (left + width / 2, bottom + height / 2)
        reach = (width if move.end in (Side.LEFT, Side.RIGHT) else height) / 2 + 14.0 * scale
        towards = move.end.vector
        square_end = (middle[0] + reach * towards.real, middle[1] + reach * towards.imag)
        other_end = (middle[0] - reach * towards.real, middle[1] - reach * towards.imag)
        way = move.direction.side.vector
        lean = LEAN_PX * scale
        now = (square_end[0] - lean * way.real, square_end[1] - lean * way.imag)
        Color(*palette.zone)
        Line(points=(*other_end, *square_end), width=7.0 * scale, cap="none")
        Color(*palette.ink)
        Line(points=(*other_end, *now), width=4.0 * scale, cap="none")
        self._draw_arrow(now, square_end, palette, scale)
        Color(*palette.quiet)
        write("front: you stand here", middle[0], self.y + foot - 16.0 * scale, 16.0 * scale, centred=True)
        Color(*palette.ink)

    def _draw_arrow(self, start: Point, tip: Point, palette: Palette, scale: float) -> None:
        length = max(abs(tip[0] - start[0]) + abs(tip[1] - start[1]), 1.0)
        along = ((tip[0] - start[0]) / length, (tip[1] - start[1]) / length)
        head, half = 16.0 * scale, 10.0 * scale
        tip = (tip[0] + head * along[0], tip[1] + head * along[1])
        foot = (tip[0] - head * along[0], tip[1] - head * along[1])
        Color(*palette.accent)
        Line(points=(*start, *foot), width=3.0 * scale, cap="none")
        fill_polygon(
            [
                tip,
                (foot[0] - half * along[1], foot[1] + half * along[0]),
                (foot[0] + half * along[1], foot[1] - half * along[0]),
            ]
        )

    def _draw_meter(self, palette: Palette, scale: float) -> None:
        """Zero in the middle; the pointer stands where the end still is, its zone as wide as it may stay."""
        middle, level = self.x + self.width / 2, self.y + 44.0 * scale
        half = self.width / 2 - 30.0 * scale
        px_per_mm = half / max(6.0 * self.inside_mm, self.meter.to_go_mm, 0.01)
        zone = min(half, self.inside_mm * px_per_mm)
        Color(*palette.zone)
        Rectangle(pos=(middle - zone, level - 12.0 * scale), size=(2 * zone, 24.0 * scale))
        Color(*palette.ink)
        Line(points=(middle - half, level, middle + half, level), width=1.2 * scale)
        Line(points=(middle, level - 14.0 * scale, middle, level + 14.0 * scale), width=1.2 * scale)
        same = self.meter.direction is self.move.direction
        place = middle + (-1.0 if same else 1.0) * self.meter.to_go_mm * px_per_mm
        colours = palette.lamp(Shape.DISC if self.meter.inside else Shape.CROSSED_SQUARE)
        pointer = [
            (place, level + 2.0 * scale),
            (place - 11.0 * scale, level + 24.0 * scale),
            (place + 11.0 * scale, level + 24.0 * scale),
        ]
        Color(*colours.fill)
        fill_polygon(pointer)
        Color(*palette.ink)
        Line(points=[part for point in pointer for part in point], close=True, width=1.2 * scale)
        write(self.meter.text, middle, self.y + 16.0 * scale, 18.0 * scale, centred=True)

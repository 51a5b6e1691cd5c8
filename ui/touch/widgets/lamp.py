"""The lamp: an area with colour, shape and word, each of which says the verdict by itself."""

from kivy.app import App
from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from core.said import NOTHING, Name
from ui.pages.theme import Colour, Palette, Shape
from ui.touch.widgets.lettering import write, written_width
from ui.touch.widgets.polygons import Point, fill_polygon


def draw_shape(shape: Shape, centre: Point, radius: float, ink: Colour, fill: Colour) -> None:
    """Add the lamp's shape to the canvas that is open; `fill` is what lies behind it."""
    x, y = centre
    Color(*ink)
    match shape:
        case Shape.RING:
            Line(circle=(x, y, radius * 0.85), width=max(1.0, radius * 0.1))
        case Shape.DISC:
            Ellipse(pos=(x - radius, y - radius), size=(2 * radius, 2 * radius))
        case Shape.CROSSED_SQUARE:
            side = radius * 0.9
            Rectangle(pos=(x - side, y - side), size=(2 * side, 2 * side))
            Color(*fill)
            reach, width = side * 0.62, max(1.2, radius * 0.13)
            Line(points=(x - reach, y - reach, x + reach, y + reach), width=width)
            Line(points=(x - reach, y + reach, x + reach, y - reach), width=width)
        case Shape.HALF_DIAMOND:
            fill_polygon([(x, y - radius), (x, y + radius), (x - radius, y)])
            outline = (x - radius, y, x, y + radius, x + radius, y, x, y - radius)
            Line(points=outline, close=True, width=max(1.2, radius * 0.09))
        case Shape.SPLIT_DISC:
            shift, box = radius * 0.22, (2 * radius, 2 * radius)
            Ellipse(pos=(x - radius - shift, y - radius + shift), size=box, angle_start=-90, angle_end=90)
            Ellipse(pos=(x - radius + shift, y - radius - shift), size=box, angle_start=90, angle_end=270)


class _Drawn(Widget):
    """Redrawn only when one of its own properties, its place or the theme changes."""

    shape = ObjectProperty(Shape.RING)

    @property
    def middle(self) -> Point:
        """The centre, worked out anew: Kivy's own `center` may still be the old one while `pos` is being told."""
        return self.x + self.width / 2, self.y + self.height / 2

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("shape", "pos", "size"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(palette=self._redraw)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        with self.canvas:
            self.draw(App.get_running_app().palette)


class ShapeSign(_Drawn):
    """A small lamp without a word, beside a row that has one."""

    def draw(self, palette: Palette) -> None:
        """Fill a square with the lamp's colour and put the shape on it."""
        colours = palette.lamp(self.shape)
        side = min(self.width, self.height) * 0.84
        Color(*colours.fill)
        x, y = self.middle
        Rectangle(pos=(x - side / 2, y - side / 2), size=(side, side))
        draw_shape(self.shape, (x, y), side * 0.34, colours.ink, colours.fill)


class Lamp(_Drawn):
    """The large lamp: shape, word, and below it what the word is about."""

    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    font_px = NumericProperty(34)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("word", "caption", "font_px"):
            self.fbind(name, self._redraw)

    def draw(self, palette: Palette) -> None:
        """Fill the area, draw the shape at its left, write the word and the caption."""
        colours = palette.lamp(self.shape)
        radius, middle = min(self.height * 0.36, self.width * 0.12), self.middle[1]
        Color(*colours.fill)
        Rectangle(pos=self.pos, size=self.size)
        draw_shape(self.shape, (self.x + self.height * 0.16 + radius, middle), radius, colours.ink, colours.fill)
        left = self.x + self.height * 0.34 + 2 * radius
        Color(*colours.ink)
        lift = self.font_px * 0.26 if self.caption else 0.0
        write(self.word, left, middle + lift, self.font_px, bold=True)
        write(self.caption, left, middle - self.font_px * 0.55, self.font_px * 0.5)


class WordBand(_Drawn):
    """The word of the whole coupon, read from afar: shape and word, below it what the word is about. `room` is the
    width that the word needs on one line at its full size, px; one of several words that has not got it stands on
    several `rows`."""

    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    font_px = NumericProperty(94)
    room = NumericProperty(0)
    rows = NumericProperty(1)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("word", "caption", "font_px"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(speech=self._redraw)

    def draw(self, palette: Palette) -> None:
        """Fill the area; a word that has no room at its full size is lettered as large as it can be."""
        colours, app = palette.lamp(self.shape), App.get_running_app()
        scale = app.scale
        radius = min(self.height * 0.3, scale * 32)
        left = self.x + 14 * scale + 2 * radius + 12 * scale
        words = app.speech.say(self.word)
        self.room = self._wide(words) + left - self.x + 8 * scale
        lines = [words] if self.room <= self.width else words.split()
        self.rows = max(1, len(lines))
        has = self.right - left - 4 * scale
        font_px = self.font_px * min(1.0, has / max(map(self._wide, lines), default=1.0))
        Color(*colours.fill)
        Rectangle(pos=self.pos, size=self.size)
        lift = (9 if self.rows == 1 else 7) * scale if self.caption else 0.0
        draw_shape(self.shape, (self.x + 14 * scale + radius, self.middle[1]), radius, colours.ink, colours.fill)
        Color(*colours.ink)
        step = font_px * 0.85
        for number, line in enumerate(lines):
            y = self.middle[1] + lift + step * ((len(lines) - 1) / 2 - number)
            write(Name(line), left, y, font_px, bold=True)
        if self.caption:
            wide = written_width(self.caption, 16 * scale)
            write(self.caption, left, self.y + 9 * scale, 16 * scale * min(1.0, has / wide))

    def _wide(self, words: str) -> float:
        return max(written_width(Name(words), self.font_px, bold=True), 1.0)


class WordBlock(_Drawn):
    """The word in a block of its own: as large as it can be up to `font_px`, line below line where it has several
    words, the shape beside its last line."""

    word = ObjectProperty(NOTHING)
    font_px = NumericProperty(94)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("word", "font_px"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(speech=self._redraw)

    def draw(self, palette: Palette) -> None:
        """Write it from the left, in the middle of the height."""
        app, colours = App.get_running_app(), palette.lamp(self.shape)
        radius = min(app.scale * 26, self.height * 0.3)
        beside = 2 * radius + app.scale * 6
        words = app.speech.say(self.word)
        rows = [words] if self._fits(words, self.width - beside) else words.split()
        last = max(written_width(Name(rows[-1]), self.font_px, bold=True), 1.0)
        widest = max(*(written_width(Name(row), self.font_px, bold=True) for row in rows), 1.0)
        share = min(
            1.0, self.width / widest, (self.width - beside) / last, self.height / len(rows) / self.font_px / 0.82
        )
        font_px = self.font_px * share
        step, y = font_px * 0.85, self.middle[1] + font_px * 0.85 * (len(rows) - 1) / 2
        for number, row in enumerate(rows):
            Color(*colours.ink)
            write(Name(row), self.x, y - number * step, font_px, bold=True)
        centre = (self.right - radius, y - (len(rows) - 1) * step)
        draw_shape(self.shape, centre, radius, colours.ink, colours.fill)

    def _fits(self, words: str, room: float) -> bool:
        return written_width(Name(words), self.font_px, bold=True) <= room

"""The lamp: an area with colour, shape and word, each of which says the verdict by itself."""

from operator import attrgetter

from kivy.app import App
from kivy.graphics import Canvas, Color, Ellipse, Line, Rectangle
from kivy.properties import NumericProperty, ObjectProperty

from core.said import NOTHING, Name
from ui.pages.theme import MAY_BREAK, Colour, Palette, Shape
from ui.touch.widgets.basics import Bounded, Bounds, Drawn
from ui.touch.widgets.lettering import half_height, write, written_width
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


class _Signed(Drawn):
    """Base of what wears a lamp's shape."""

    shows: tuple[str, ...] = ("shape",)
    shape = ObjectProperty(Shape.RING)

    @property
    def middle(self) -> Point:
        """The centre, worked out anew: Kivy's own `center` may still be the old one while `pos` is being told."""
        return self.x + self.width / 2, self.y + self.height / 2

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        with self.canvas:
            self.draw(App.get_running_app().palette)


class _Small(_Signed, Bounded):
    """Base of what may be another one with every number: each is drawn once while it stands where it does."""

    def __init__(self, **kwargs: object) -> None:
        self._drawn: dict[object, Canvas] = {}
        self._shown = attrgetter(*self.shows)
        for name in ("pos", "size"):
            self.fbind(name, self._forget)
        App.get_running_app().bind(palette=self._forget, speech=self._forget)
        super().__init__(**kwargs)

    def _forget(self, *_changed: object) -> None:
        """It stands elsewhere, or is to look another way: what was drawn does not hold."""
        self._drawn = {}

    def _redraw(self, *_changed: object) -> None:
        shown = self._shown(self)
        drawn = self._drawn.get(shown)
        if drawn is None:
            drawn = self._drawn[shown] = Canvas()
            with drawn:
                self.draw(App.get_running_app().palette)
        self.canvas.clear()
        self.canvas.add(drawn)


class ShapeSign(_Small):
    """A small lamp without a word, beside a row that has one."""

    @property
    def bounds(self) -> Bounds:
        """Its square, in which the shape lies."""
        (x, y), half = self.middle, self._side / 2
        return x - half, y - half, x + half, y + half

    @property
    def _side(self) -> float:
        return min(self.width, self.height) * 0.84

    def draw(self, palette: Palette) -> None:
        """Fill a square with the lamp's colour and put the shape on it."""
        colours, side = palette.lamp(self.shape), self._side
        Color(*colours.fill)
        x, y = self.middle
        Rectangle(pos=(x - side / 2, y - side / 2), size=(side, side))
        draw_shape(self.shape, (x, y), side * 0.34, colours.ink, colours.fill)


LONG, LONG_SHARE = 10, 16 / 18  # letters, and their size beside that of a short word's


class Word(_Small):
    """One line beside a sign, a long one lettered smaller, and smaller still where it has no room."""

    shows = ("word", "font_px")
    word = ObjectProperty(NOTHING)
    font_px = NumericProperty(18)

    @property
    def bounds(self) -> Bounds:
        """As wide as its box, as high as the picture of the line."""
        middle, half = self.middle[1], half_height(self.font_px)
        return self.x, middle - half, self.right, middle + half

    def draw(self, palette: Palette) -> None:
        """Write it from the left, in the middle of the height."""
        long = len(App.get_running_app().speech.say(self.word)) >= LONG
        font_px = self.font_px * (LONG_SHARE if long else 1.0)
        wide = max(written_width(self.word, font_px, bold=True), 1.0)
        Color(*palette.ink)
        write(self.word, self.x, self.middle[1], font_px * min(1.0, self.width / wide), bold=True)


class Lamp(_Signed):
    """The large lamp: shape, word, and below it what the word is about."""

    shows = ("shape", "word", "caption", "font_px")
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    font_px = NumericProperty(34)

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


# The part of their own width down to which the letters of a large word are narrowed before it is broken.
NARROWEST = 0.82


def _ways_to_set(word: str) -> tuple[list[str], ...]:
    """A large word on one line; word below word; broken where it may be."""
    whole = word.replace(MAY_BREAK, "")
    return [whole], whole.split() or [whole], word.replace(MAY_BREAK, "- ").split() or [whole]


class _LargeWord(_Signed):
    """A word that is read from afar: its letters stay `font_px` high in every language and on every panel. What has no
    room on its line is narrowed, stands line below line, is broken, and is lower only when that is not enough."""

    shows: tuple[str, ...] = ("shape", "word", "font_px")
    word = ObjectProperty(NOTHING)
    font_px = NumericProperty(94)

    def set_in(self, room: float, last_room: float) -> tuple[list[str], float]:
        """Its lines and the share of their width that they have: in `room`, the last in `last_room`, px."""
        share, lines = 0.0, [""]
        for lines in _ways_to_set(App.get_running_app().speech.say(self.word)):
            rooms = (*[room] * (len(lines) - 1), last_room)
            share = min(has / self.wide(line) for line, has in zip(lines, rooms, strict=True))
            if share >= NARROWEST:
                break
        return lines, min(1.0, share)

    def letter(self, lines: list[str], left: float, middle: float, font_px: float, share: float) -> float:
        """Write the lines around `middle`, each `share` of its width at `self.font_px`; the middle of the last one."""
        step, narrowed = font_px * 0.85, share * self.font_px / font_px
        for number, line in enumerate(lines):
            y = middle + step * ((len(lines) - 1) / 2 - number)
            write(Name(line), left, y, font_px, bold=True, narrowed=narrowed)
        return middle - step * (len(lines) - 1) / 2

    def wide(self, words: str) -> float:
        """Its width at full size, px."""
        return max(written_width(Name(words), self.font_px, bold=True), 1.0)


class WordBand(_LargeWord):
    """The word of the whole coupon across the panel: shape and word, below it what the word is about. `room` is the
    width that the word needs on one line at its full size, px; it stands on `rows`."""

    shows = ("shape", "word", "caption", "font_px")
    caption = ObjectProperty(NOTHING)
    room = NumericProperty(0)
    rows = NumericProperty(1)

    def draw(self, palette: Palette) -> None:
        """Fill the area; shape at the left, the word beside it."""
        colours, app = palette.lamp(self.shape), App.get_running_app()
        scale = app.scale
        radius = min(self.height * 0.3, scale * 32)
        left = self.x + 14 * scale + 2 * radius + 12 * scale
        has = self.right - left - 4 * scale
        self.room = self.wide(app.speech.say(self.word).replace(MAY_BREAK, "")) + left - self.x + 8 * scale
        lines, share = self.set_in(has, has)
        self.rows = len(lines)
        Color(*colours.fill)
        Rectangle(pos=self.pos, size=self.size)
        lift = (9 if self.rows == 1 else 7) * scale if self.caption else 0.0
        draw_shape(self.shape, (self.x + 14 * scale + radius, self.middle[1]), radius, colours.ink, colours.fill)
        Color(*colours.ink)
        self.letter(lines, left, self.middle[1] + lift, self.font_px * min(1.0, share / NARROWEST), share)
        if self.caption:
            wide = written_width(self.caption, 16 * scale)
            write(self.caption, left, self.y + 9 * scale, 16 * scale * min(1.0, has / wide))


class WordBlock(_LargeWord):
    """The word in a block of its own, the shape beside its last line; lower than `font_px` too where the block is."""

    def draw(self, palette: Palette) -> None:
        """Write it from the left, in the middle of the height."""
        app, colours = App.get_running_app(), palette.lamp(self.shape)
        radius = min(app.scale * 26, self.height * 0.3)
        lines, share = self.set_in(self.width, self.width - 2 * radius - app.scale * 6)
        tall = self.height / len(lines) / self.font_px / 0.82
        font_px = self.font_px * min(1.0, share / NARROWEST, max(tall, 0.01))
        Color(*colours.ink)
        last = self.letter(lines, self.x, self.middle[1], font_px, min(share, font_px / self.font_px))
        draw_shape(self.shape, (self.right - radius, last), radius, colours.ink, colours.fill)

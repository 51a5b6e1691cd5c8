"""The outline of a coupon, counted in limits: nominal dashed, the band of the limit, the coupon over it with its U."""

from kivy.app import App
from kivy.graphics import Color, Line
from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from core.said import Part
from ui.pages.outline import Outline
from ui.pages.theme import Colour, Palette, Shape
from ui.touch.widgets.lettering import write
from ui.touch.widgets.polygons import fill_polygon, fill_polygons

Point = tuple[float, float]
Polygon = tuple[Point, Point, Point, Point]

# Of the 800 x 480 design: how long a limit is drawn, whatever it is in millimetres.
LIMIT_PX = 16.0
# What is far off is drawn so many limits off at most: beyond it a drawing says no more than that it is.
MOST_LIMITS = 2.2
_LETTER_PX = 16.0
_LINE_OF_TYPE_PX = 22.0
_THIN_U_PX = 2.0  # a narrower U is hidden by the outline itself


def place_outline(outline: Outline, box: tuple[float, float, float, float], limit_px: float) -> Polygon:
    """The corners NL, NR, FR, FL in px, on a nominal box (left, bottom, width, height). At its limit a lean moves the
    far edge to the right and the near edge to the left by `limit_px` each, an edge too long both of its ends."""
    x, y, width, height = box
    lean = held_on(outline.lean) * limit_px
    near, right, far, left = (held_on(share) * limit_px for share in outline.longer)
    return (
        (x - lean - near, y - left),
        (x + width - lean + near, y - right),
        (x + width + lean + far, y + height + right),
        (x + lean - far, y + height + left),
    )


def held_on(share: float) -> float:
    """So many limits, as far as the drawing goes."""
    return max(-MOST_LIMITS, min(MOST_LIMITS, share))


class OutlineSheet(Widget):
    """Shows `outline`, as large as its place allows; without one nothing is drawn."""

    outline = ObjectProperty(None, allownone=True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("outline", "pos", "size"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(palette=self._redraw, speech=self._redraw)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        app, outline = App.get_running_app(), self.outline
        if outline is None or min(self.size) < 60 * app.scale:
            return
        scale = app.scale
        limit = LIMIT_PX * scale
        line = _LINE_OF_TYPE_PX * scale
        below, above = (line if outline.caption else 0.0), (line if outline.title else 0.0)
        free = (self.width - 2 * MOST_LIMITS * limit, self.height - below - above - 2 * 1.4 * limit)
        height = min(free[1], free[0] / 1.5)
        width = height * 1.5
        middle = self.x + self.width / 2, self.y + below + (self.height - below - above) / 2
        box = (middle[0] - width / 2, middle[1] - height / 2, width, height)
        with self.canvas:
            _draw(outline, box, limit, app.palette, scale)
            Color(*app.palette.ink)
            _write_centred(outline.caption, middle[0], self.y + line / 2, _LETTER_PX * scale)
            _write_centred(outline.title, middle[0], self.top - line / 2, _LETTER_PX * scale)


def _write_centred(text: Part, x: float, middle: float, font_px: float) -> None:
    if text:
        write(text, x, middle, font_px, centred=True)


def _draw(
    outline: Outline, box: tuple[float, float, float, float], limit: float, palette: Palette, scale: float
) -> None:
    Color(*palette.zone)
    fill_polygons(_band(box, limit, level=any(outline.longer)))
    Color(*palette.rule)
    Line(rectangle=box, width=1.0, dash_length=4, dash_offset=3)
    shape = place_outline(outline, box, limit)
    ink = palette.lamp(Shape.CROSSED_SQUARE).fill if outline.fails else palette.ink
    if outline.u * limit > _THIN_U_PX * scale:
        _draw_u(shape, min(outline.u, MOST_LIMITS) * limit, ink)
    Color(*ink)
    Line(points=[part for point in shape for part in point], close=True, width=1.6 * scale, joint="miter")


def _band(box: tuple[float, float, float, float], limit: float, *, level: bool) -> list[list[Point]]:
    """The limit on either side of the upright edges; of lengths beside the level ones too."""
    x, y, width, height = box
    bands = [_rectangle(side - limit, y, 2 * limit, height) for side in (x, x + width)]
    if level:
        bands += [_rectangle(x, side - limit, width, 2 * limit) for side in (y, y + height)]
    return bands


def _rectangle(x: float, y: float, width: float, height: float) -> list[Point]:
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def _draw_u(shape: Polygon, half: float, ink: Colour) -> None:
    """How far the upright edges could be off: a pale band along each."""
    nl, nr, fr, fl = shape
    Color(*ink[:3], 0.28)
    for low, high in ((nl, fl), (nr, fr)):
        fill_polygon([_along(low, -half), _along(low, half), _along(high, half), _along(high, -half)])


def _along(point: Point, shift: float) -> Point:
    return point[0] + shift, point[1]

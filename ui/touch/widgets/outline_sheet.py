"""The outline of a coupon, counted in limits: nominal dashed, the band of the limit, the coupon over it with its U."""

from kivy.app import App
from kivy.graphics import Color, Line
from kivy.properties import ObjectProperty

from core.records import MOST_LIMITS, Outline, place_band, place_outline, place_u
from core.said import Part
from ui.pages.theme import Palette
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.lettering import write
from ui.touch.widgets.polygons import fill_polygons

# Of the 800 x 480 design: how long a limit is drawn, whatever it is in millimetres.
LIMIT_PX = 16.0
_LETTER_PX = 16.0
_LINE_OF_TYPE_PX = 22.0
_THIN_U_PX = 2.0  # a narrower U is hidden by the outline itself


class OutlineSheet(Drawn):
    """Shows `outline`, as large as its place allows; without one nothing is drawn."""

    shows = ("outline",)
    outline = ObjectProperty(None, allownone=True)

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
    fill_polygons(place_band(outline, box, limit))
    Color(*palette.rule)
    Line(rectangle=box, width=1.0, dash_length=4, dash_offset=3)
    shape = place_outline(outline, box, limit)
    ink = palette.failing if outline.fails else palette.ink
    if outline.u * limit > _THIN_U_PX * scale:
        Color(*ink[:3], 0.28)
        fill_polygons(place_u(outline, shape, limit))
    Color(*ink)
    Line(points=[part for point in shape for part in point], close=True, width=1.6 * scale, joint="miter")

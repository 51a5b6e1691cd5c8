"""A picture of strokes, as large as its place allows."""

from kivy.app import App
from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.input import MotionEvent
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.behaviors import ButtonBehavior

from ui.pages.theme import Colour, Palette, Shape
from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, Stroke
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.polygons import fill_polygon


class PictureWidget(Drawn):
    """Shows `picture`."""

    shows: tuple[str, ...] = ("picture",)
    picture = ObjectProperty(())

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        corner, side = self.drawn_square()
        with self.canvas:
            self._draw_sheet(App.get_running_app().palette)
            draw_picture(self.picture, corner, side, App.get_running_app().palette)

    def drawn_square(self) -> tuple[tuple[float, float], float]:
        """Where the picture stands: its lower left corner and its side, px."""
        side = min(self.size)
        return (self.x + (self.width - side) / 2, self.y + (self.height - side) / 2), side

    def _draw_sheet(self, palette: Palette) -> None:
        """Nothing lies below a picture that is only looked at."""


class TouchedPicture(ButtonBehavior, PictureWidget):
    """A picture whose thing is touched to say that it is so, on a sheet of its own: beside the drawing it is no
    button, for a finger may still be there from what led here. `part` of the sheet is drawn on."""

    shows = ("picture", "part")
    part = NumericProperty(1.0)

    def drawn_square(self) -> tuple[tuple[float, float], float]:
        """Where the thing is drawn, which is where it is touched."""
        side = self.part * min(self.size)
        return (self.x + (self.width - side) / 2, self.y + (self.height - side) / 2), side

    def collide_point(self, x: float, y: float) -> bool:
        """On the thing, not beside it."""
        (left, low), side = self.drawn_square()
        return left <= x <= left + side and low <= y <= low + side

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Swallow the second tap of a double tap: it would heed the next caution, which nobody has read."""
        if touch.is_double_tap and self.collide_point(*touch.pos):
            return True
        return super().on_touch_down(touch)

    def _draw_sheet(self, palette: Palette) -> None:
        Color(*palette.panel)
        Rectangle(pos=self.pos, size=self.size)
        Color(*palette.accent)
        Line(rectangle=(self.x + 2, self.y + 2, self.width - 4, self.height - 4), width=2.0)


def draw_picture(picture: Picture, corner: tuple[float, float], side: float, palette: Palette) -> None:
    """Add a picture to the canvas that is open, its lower left corner at `corner`, `side` px wide and high."""
    unit = side / 100.0
    for item in picture:
        Color(*role_colour(item.role, palette))
        match item:
            case Fill(points=points):
                fill_polygon([(corner[0] + x * unit, corner[1] + y * unit) for x, y in points])
            case Stroke(points=points, width=width, closed=closed):
                placed = [part for x, y in points for part in (corner[0] + x * unit, corner[1] + y * unit)]
                Line(points=placed, width=max(1.0, width * unit / 2), close=closed, cap="square", joint="miter")
            case Circle(centre=(x, y), radius=radius, width=width):
                place, reach = (corner[0] + x * unit, corner[1] + y * unit), radius * unit
                if width:
                    Line(circle=(*place, reach), width=max(1.0, width * unit / 2))
                else:
                    Ellipse(pos=(place[0] - reach, place[1] - reach), size=(2 * reach, 2 * reach))


def role_colour(role: Role, palette: Palette) -> Colour:
    """The colour of what plays this part."""
    match role:
        case Role.INK:
            return palette.ink
        case Role.QUIET:
            return palette.rule
        case Role.PAPER:
            return palette.panel
        case Role.ACT:
            return palette.accent
        case Role.DANGER:
            return palette.failing
        case Role.GOOD:
            return palette.lamp(Shape.DISC).fill

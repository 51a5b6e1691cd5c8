"""Large figures that never jump: every digit has a cell of one width, and its picture is made once."""

from __future__ import annotations

from kivy.core.text import Label as TextTexture
from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

FIGURES = "0123456789–−"
# Of Roboto Bold, in em: the height of its figures, their advance, and the point's.
CAP_HEIGHT = 0.711
FIGURE_WIDTH = 0.576
POINT_WIDTH = 0.3


class Digits(Widget):
    """Right-aligned figures, `digit_px` high; lower where `figures` of them with a point would not fit the width."""

    text = StringProperty("")
    color = ColorProperty((0, 0, 0, 1))
    digit_px = NumericProperty(84)
    figures = NumericProperty(5)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._textures: dict[str, Texture] = {}
        self._cell = self._font_px = 0.0
        self._cells: list[Rectangle] = []
        self._group = InstructionGroup()
        self.canvas.add(self._group)
        self.fbind("text", self._place)
        self.fbind("pos", self._place)
        for name in ("width", "digit_px", "figures"):
            self.fbind(name, self._forge)
        self.fbind("height", self._place)
        self.fbind("color", self._colour)
        self._ink = Color(*self.color)
        self._forge()

    def _forge(self, *_changed: object) -> None:
        """Make the picture of each figure, bold, white; the colour is laid over it."""
        font_px = min(self.digit_px / CAP_HEIGHT, self.width / (self.figures * FIGURE_WIDTH + POINT_WIDTH))
        if font_px == self._font_px:
            self._place()
            return
        self._font_px = font_px
        self._textures.clear()
        for figure in FIGURES + ".":
            label = TextTexture(text=figure, font_size=font_px, bold=True, color=(1, 1, 1, 1))
            label.refresh()
            self._textures[figure] = label.texture
        self._cell = max(self._textures[figure].width for figure in "0123456789")
        self._place()

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba = self.color

    def _place(self, *_changed: object) -> None:
        if len(self._cells) != len(self.text):
            self._group.clear()
            self._group.add(self._ink)
            self._cells = [Rectangle() for _ in self.text]
            for cell in self._cells:
                self._group.add(cell)
        right, middle = self.x + self.width, self.y + self.height / 2
        for figure, cell in zip(reversed(self.text), reversed(self._cells), strict=True):
            texture = self._textures[figure]
            width = texture.width if figure == "." else self._cell
            right -= width
            size = texture.size
            place = (round(right + (width - size[0]) / 2), round(middle - size[1] / 2))
            if cell.texture is not texture:
                cell.texture = texture
            if tuple(cell.size) != tuple(size):
                cell.size = size
            if tuple(cell.pos) != place:
                cell.pos = place

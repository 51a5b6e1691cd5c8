"""Large figures that never jump: every digit has a cell of one width, and its picture is made once."""

from __future__ import annotations

from kivy.core.text import Label as TextTexture
from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

FIGURES = "0123456789–−"
CAP_HEIGHT = 0.711  # of Roboto, in em: the height of its figures


class Digits(Widget):
    """Right-aligned figures, as high as `digit_px`; `cells` figures beside the point fit the width."""

    text = StringProperty("")
    color = ColorProperty((0, 0, 0, 1))
    digit_px = NumericProperty(84)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._textures: dict[str, Texture] = {}
        self._cell = 0.0
        self._cells: list[Rectangle] = []
        self._group = InstructionGroup()
        self.canvas.add(self._group)
        self.fbind("text", self._place)
        self.fbind("pos", self._place)
        self.fbind("size", self._place)
        self.fbind("digit_px", self._forge)
        self.fbind("color", self._colour)
        self._ink = Color(*self.color)
        self._forge()

    def _forge(self, *_changed: object) -> None:
        """Make the picture of each figure, bold, white; the colour is laid over it."""
        self._textures.clear()
        for figure in FIGURES + ".":
            label = TextTexture(text=figure, font_size=self.digit_px / CAP_HEIGHT, bold=True, color=(1, 1, 1, 1))
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

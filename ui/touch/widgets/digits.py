"""Figures that never jump: every digit has a cell of one width, and every character's picture is made once.

What changes with every indication is written with these: nothing is drawn into a new texture while jaws move.
"""

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, OptionProperty, StringProperty
from kivy.uix.widget import Widget

from ui.touch.widgets.lettering import picture

# Of Roboto Bold, in em: the height of its figures, their advance, and the point's.
CAP_HEIGHT = 0.711
FIGURE_WIDTH = 0.576
POINT_WIDTH = 0.3
CELL_CHARACTERS = "0123456789–−+"

Placed = tuple[Texture, tuple[int, int], tuple[int, int]]  # a letter's picture, size and place, px


class Digits(Widget):
    """Figures `digit_px` high. Where `figures` of them with a point would not fit the width they are drawn narrower,
    down to the part `narrowest` of their own width, and lower when that is not enough (0 figures: neither)."""

    text = StringProperty("")
    color = ColorProperty((0, 0, 0, 1))
    digit_px = NumericProperty(84)
    figures = NumericProperty(0)
    narrowest = NumericProperty(1.0)
    align = OptionProperty("right", options=("left", "right"))
    bold = BooleanProperty(True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._cells: list[Rectangle] = []
        self._placed: list[Placed | None] = []
        self._group = InstructionGroup()
        self._ink = Color(*self.color)
        self.canvas.add(self._group)
        for name in ("text", "pos", "size", "digit_px", "figures", "narrowest", "align"):
            self.fbind(name, self._place)
        self.fbind("color", self._colour)

    @property
    def font_px(self) -> float:
        """The size of the type, px."""
        wanted = self.digit_px / CAP_HEIGHT
        if not self.figures:
            return wanted
        return min(wanted, self.width / (self.figures * FIGURE_WIDTH + POINT_WIDTH) / self.narrowest)

    @property
    def narrowed(self) -> float:
        """The width of a figure as a part of its own, 1 where nothing is narrowed."""
        if not self.figures or not self.font_px:
            return 1.0
        return min(1.0, self.width / (self.figures * FIGURE_WIDTH + POINT_WIDTH) / self.font_px)

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba = self.color

    def _place(self, *_changed: object) -> None:
        if len(self._cells) != len(self.text):
            self._group.clear()
            self._group.add(self._ink)
            self._cells = [Rectangle() for _ in self.text]
            self._placed = [None] * len(self._cells)
            for cell in self._cells:
                self._group.add(cell)
        font_px, narrowed = round(self.font_px, 1), self.narrowed
        textures = [picture(letter, font_px, self.bold) for letter in self.text]
        figure_px = picture("0", font_px, self.bold).width * narrowed
        sizes = [(round(texture.width * narrowed), texture.height) for texture in textures]
        widths = [
            figure_px if letter in CELL_CHARACTERS else size[0] for letter, size in zip(self.text, sizes, strict=True)
        ]
        x = self.x if self.align == "left" else self.x + self.width - sum(widths)
        middle = self.y + self.height / 2
        for number, (texture, size, width) in enumerate(zip(textures, sizes, widths, strict=True)):
            place = (round(x + (width - size[0]) / 2), round(middle - size[1] / 2))
            self._put(number, (texture, size, place))
            x += width

    def _put(self, number: int, placed: Placed) -> None:
        """Touch only what differs: an instruction that is set is drawn again even when nothing changed."""
        if self._placed[number] == placed:
            return
        self._placed[number] = placed
        cell = self._cells[number]
        cell.texture, cell.size, cell.pos = placed

"""Figures that never jump: every digit has a cell of one width, and every character's picture is made once.

What changes with every indication is written with these: nothing is drawn into a new texture while jaws move.
"""

from itertools import accumulate

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, OptionProperty, StringProperty

from ui.touch.widgets.basics import Bounded, Bounds
from ui.touch.widgets.lettering import picture

# Of Roboto Bold, in em: the height of its figures, their advance, and the point's.
CAP_HEIGHT = 0.711
FIGURE_WIDTH = 0.576
POINT_WIDTH = 0.3
CELL_CHARACTERS = "0123456789–−+"
_CELLS = str.maketrans(CELL_CHARACTERS, "0" * len(CELL_CHARACTERS))  # alike where a letter may take another's room

Placed = tuple[Texture, tuple[int, int], tuple[int, int]]  # a letter's picture, size and place, px
Pictured = tuple[Texture, tuple[int, int], float, int]  # the same, as far from the left end of its cell, and its foot


class Digits(Bounded):
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
        self._rooms: list[tuple[float, float]] = []  # left end and width of each cell, px
        self._letters = ""
        self._reach: Bounds = (0.0, 0.0, 0.0, 0.0)
        self._pictures: dict[str, Pictured] = {}
        self._type = (0.0, 1.0)  # size of the type in px, and how far it is narrowed
        self._group = InstructionGroup()
        self._ink = Color(*self.color)
        self.canvas.add(self._group)
        self.fbind("text", self._write)
        for name in ("pos", "size", "digit_px", "figures", "narrowest", "align"):
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

    @property
    def bounds(self) -> Bounds:
        """Its box, and letters that stood out of it: pictures of letters are higher, a long number may be wider."""
        return self._reach

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba = self.color

    def _write(self, *_changed: object) -> None:
        """Another number: where only figures are others, everything stands where it stood."""
        before, text = self._letters, self.text
        if before.translate(_CELLS) != text.translate(_CELLS):
            self._place()
            return
        self._letters = text
        for number, (was, letter) in enumerate(zip(before, text, strict=True)):
            if was != letter:
                self._put(number, letter)

    def _place(self, *_changed: object) -> None:
        if len(self._cells) != len(self.text):
            self._group.clear()
            self._group.add(self._ink)
            self._cells = [Rectangle() for _ in self.text]
            self._placed = [None] * len(self._cells)
            for cell in self._cells:
                self._group.add(cell)
        font_px, narrowed = self._type = round(self.font_px, 1), self.narrowed
        figure_px = picture("0", font_px, self.bold).width * narrowed
        widths = [
            figure_px if letter in CELL_CHARACTERS else round(picture(letter, font_px, self.bold).width * narrowed)
            for letter in self.text
        ]
        x = self.x if self.align == "left" else self.x + self.width - sum(widths)
        self._rooms = list(zip(accumulate(widths, initial=x), widths, strict=False))
        self._letters, self._reach, self._pictures = self.text, super().bounds, {}
        for number, letter in enumerate(self.text):
            self._put(number, letter)

    def _put(self, number: int, letter: str) -> None:
        """One letter into its cell. Touch only what differs: an instruction that is set is drawn again even when
        nothing changed."""
        known = self._pictures.get(letter)
        if known is None:
            known = self._pictures[letter] = self._pictured(letter, self._rooms[number][1])
        texture, size, aside, y = known
        placed = texture, size, (round(self._rooms[number][0] + aside), y)
        self._stretch(placed)
        if self._placed[number] == placed:
            return
        self._placed[number] = placed
        cell = self._cells[number]
        cell.texture, cell.size, cell.pos = placed

    def _pictured(self, letter: str, width: float) -> Pictured:
        """A letter as it stands in any room of this width."""
        font_px, narrowed = self._type
        texture = picture(letter, font_px, self.bold)
        wide, high = round(texture.width * narrowed), texture.height
        return texture, (wide, high), (width - wide) / 2, round(self.y + self.height / 2 - high / 2)

    def _stretch(self, placed: Placed) -> None:
        """Reach as far as this letter does."""
        _texture, (wide, high), (x, y) = placed
        left, low, right, top = self._reach
        if x < left or y < low or x + wide > right or y + high > top:
            self._reach = min(x, left), min(y, low), max(x + wide, right), max(y + high, top)

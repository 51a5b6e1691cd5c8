"""Figures that never jump: every digit has a cell of one width, and every character's picture is made once.

What changes with every indication is written with these: nothing is drawn into a new texture while jaws move.
"""

from itertools import accumulate
from math import ceil, floor, inf

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, OptionProperty, StringProperty

from ui.touch.widgets.basics import Bounded, Bounds
from ui.touch.widgets.lettering import inked, picture

# Of Roboto Bold, in em: the height of its figures, their advance, and the point's.
CAP_HEIGHT = 0.711
FIGURE_WIDTH = 0.576
POINT_WIDTH = 0.3
NO_INK = 0.19  # below and above a figure, a little less than there is
ALL = -1
NO_ROWS = (inf, -inf)
CELL_CHARACTERS = "0123456789–−+"
_CELLS = str.maketrans(CELL_CHARACTERS, "0" * len(CELL_CHARACTERS))  # alike where a letter may take another's room

# How wide a letter's cell is, its picture, that one's size, place in the cell, and foot, px.
Pictured = tuple[float, Texture, tuple[int, int], float, int]
Placed = tuple[Texture, int, int]  # a picture and where it stands, px


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
        self._cells: list[Rectangle] = []  # as many as were needed at once; the first of them are drawn
        self._placed: list[Placed | None] = []  # what stands in each; None: a letter written over it
        self._lefts: list[float] = []  # left end of each that is drawn, px
        self._begin = self._end = 0.0  # of all of them
        self._letters = ""
        self._type, self._figure_px = (0.0, 1.0), 0.0  # size of the type in px, how far narrowed; width of a figure
        self._pictures: dict[str, Pictured] = {}
        self._rows = self._figure_rows = NO_ROWS  # foot and top of the letters, and of the figures
        self._stands_out_px = 0  # the widest letter, on each side of its cell
        self._reach: Bounds = (0.0, 0.0, 0.0, 0.0)
        self._written_from = ALL  # the first cell that was written over since it was asked for
        self._group = InstructionGroup()
        self._ink = Color(*self.color)
        self._group.add(self._ink)
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

    def take_changed(self) -> Bounds | None:
        """From the first figure on that was written over; None where more has changed."""
        first, self._written_from = self._written_from, len(self._letters)
        if not 0 <= first < len(self._letters):
            return None
        low, top = self._figure_rows
        return self._lefts[first] - self._stands_out_px, low, self._end + self._stands_out_px, top

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba, self._written_from = self.color, ALL

    def _write(self, *_changed: object) -> None:
        """Another number: where only figures are others, everything stands where it stood."""
        before, text = self._letters, self.text
        if before.translate(_CELLS) != text.translate(_CELLS):
            self._set()
            return
        self._letters, pictures = text, self._pictures
        for number, letter in enumerate(text):
            if letter != before[number]:
                cell, (_, texture, size, aside, y) = self._cells[number], pictures.get(letter) or self._pictured(letter)
                cell.texture, cell.size, cell.pos = texture, size, (round(self._lefts[number] + aside), y)
                self._placed[number] = None
                if number < self._written_from:
                    self._written_from = number

    def _place(self, *_changed: object) -> None:
        """Another place or type: no letter stands as it stood."""
        font_px, narrowed = self._type = round(self.font_px, 1), self.narrowed
        self._figure_px = picture("0", font_px, self.bold).width * narrowed
        self._pictures, self._rows, self._figure_rows, self._stands_out_px = {}, NO_ROWS, NO_ROWS, 0
        self._placed = [None] * len(self._cells)
        self._set()

    def _set(self) -> None:
        """Every letter into a cell."""
        before, text = len(self._letters), self.text
        self._letters, self._written_from, pictures = text, ALL, self._pictures
        for number in range(before, len(text)):
            if number == len(self._cells):
                self._cells.append(Rectangle())
                self._placed.append(None)
            self._group.add(self._cells[number])
        for cell in self._cells[len(text) : before]:
            self._group.remove(cell)
        pictured = [pictures.get(letter) or self._pictured(letter) for letter in text]
        rooms = [one[0] for one in pictured]
        self._begin = self.x if self.align == "left" else self.x + self.width - sum(rooms)
        *self._lefts, self._end = accumulate(rooms, initial=self._begin)
        for number, (_, texture, size, aside, y) in enumerate(pictured):
            placed = texture, round(self._lefts[number] + aside), y
            # Touch only what differs: an instruction that is set is drawn again even when nothing changed.
            if self._placed[number] != placed:
                cell, self._placed[number] = self._cells[number], placed
                cell.texture, cell.size, cell.pos = texture, size, placed[1:]
        self._stretch()

    def _pictured(self, letter: str) -> Pictured:
        """A letter as it stands in each of its cells, for which there is room from now on wherever it comes up."""
        font_px, narrowed = self._type
        texture = picture(letter, font_px, self.bold)
        wide, y = round(texture.width * narrowed), round(self.y + self.height / 2 - texture.height / 2)
        room, aside = float(wide), 0.0
        if letter in CELL_CHARACTERS:
            below_px = int(NO_INK * font_px)
            texture, y = inked(letter, font_px, self.bold, below_px), y + below_px
            room, aside = self._figure_px, (self._figure_px - wide) / 2
            self._figure_rows = y, y + texture.height
            self._stands_out_px = max(self._stands_out_px, ceil(-aside))
        low, top = self._rows
        self._rows = min(low, y), max(top, y + texture.height)
        found = self._pictures[letter] = room, texture, (wide, texture.height), aside, y
        self._stretch()
        return found

    def _stretch(self) -> None:
        """Reach as far as any letter that came up does wherever it stands."""
        left, low, right, top = super().bounds
        (foot, head), out = self._rows, self._stands_out_px
        begin, end = floor(self._begin - out), ceil(self._end + out)
        self._reach = min(left, begin), min(low, foot), max(right, end), max(top, head)

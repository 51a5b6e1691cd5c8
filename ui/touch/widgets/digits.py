"""Figures that never jump: every digit has a cell of one width, and every character's picture is made once.

What changes with every indication is written with these: nothing is drawn into a new texture while jaws move.
"""

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
NO_INK = 0.19  # below and above a figure or a point, a little less than there is
MANY = 1_000
NOTHING_YET = (inf, -inf)
NOTHING_WRITTEN = (MANY, -1)
NONE_YET = "\0"  # in a cell that no letter was put into
CELL_CHARACTERS = "0123456789–−+"
_CELLS = str.maketrans(CELL_CHARACTERS, "0" * len(CELL_CHARACTERS))  # alike where a letter may take another's room

Stand = tuple[tuple[int, int], float, int]  # a picture's size, its place in the cell, and its foot, px
Pictured = tuple[float, Texture, Stand]  # how wide a letter's cell is, px, its picture, and how that stands there


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
        # All is counted from the end that is held: a figure more moves none of the others.
        self._is_held_left = False
        self._cells: list[Rectangle] = []  # as many as were needed at once; the first of them are drawn
        self._stands: list[Stand | None] = []  # how a picture stands in each, None where it has to be put up anew
        self._ends = [0.0]  # of each that is drawn, the held end before them, px
        self._letters = self._form = ""  # in them, and what takes which room
        self._type, self._figure_px = (0.0, 1.0), 0.0  # size of the type in px, how far narrowed; width of a figure
        self._pictures: dict[str, Pictured] = {}
        self._rows = self._figure_rows = NOTHING_YET  # foot and top of the letters, and of the figures
        self._extent = NOTHING_YET  # from the left to the right, of all that stood here
        self._stands_out_px = 0  # the widest letter, on each side of its cell
        self._reach: Bounds = (0.0, 0.0, 0.0, 0.0)
        # The first and the last cell that was written over since that was asked for; None where more has changed.
        self._written: tuple[int, int] | None = None
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
        """Where letters have stood since its place or its type is what it is; its box before the first."""
        return self._reach

    def take_changed(self) -> Bounds | None:
        """From the first figure to the last that was written over; None where more has changed."""
        written, self._written = self._written, NOTHING_WRITTEN
        if written is None or written == NOTHING_WRITTEN:
            return None
        begin, end = self._ends[written[0]], self._ends[written[1] + 1]
        out, (low, top) = self._stands_out_px, self._figure_rows
        return min(begin, end) - out, low, max(begin, end) + out, top

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba, self._written = self.color, None

    def _place(self, *_changed: object) -> None:
        """Another place or type: no letter stands as it stood."""
        self._is_held_left = self.align == "left"
        font_px, narrowed = self._type = round(self.font_px, 1), self.narrowed
        self._figure_px = picture("0", font_px, self.bold).width * narrowed
        self._pictures, self._stands_out_px = {}, 0
        self._rows = self._figure_rows = self._extent = NOTHING_YET
        self._make_room("", "")
        self._write()

    def _write(self, *_changed: object) -> None:
        """Another number. Only letters that are others are touched: an instruction that is set is drawn again even when
        nothing changed."""
        text = self.text if self._is_held_left else self.text[::-1]
        form = text.translate(_CELLS)
        if form != self._form:
            self._make_room(text, form)
        before, self._letters = self._letters, text
        first, last = NOTHING_WRITTEN
        for number, letter in enumerate(text):
            if letter != before[number]:
                cell, (_, texture, stand) = self._cells[number], self._pictures.get(letter) or self._pictured(letter)
                cell.texture = texture
                if stand != self._stands[number]:
                    self._stands[number] = stand
                    cell.size, cell.pos = stand[0], (round(self._left(number) + stand[1]), stand[2])
                first, last = min(first, number), number
        if self._written is not None:
            self._written = min(self._written[0], first), max(self._written[1], last)

    def _make_room(self, text: str, form: str) -> None:
        """A cell for each letter; where those before took the same room, they stay, and others go on or come off."""
        before, kept = len(self._letters), min(len(form), len(self._form))
        if form[:kept] != self._form[:kept]:
            kept = 0
        self._letters, self._form, self._written = self._letters[:kept].ljust(len(text), NONE_YET), form, None
        for number in range(before, len(text)):
            if number == len(self._cells):
                self._cells.append(Rectangle())
                self._stands.append(None)
            self._group.add(self._cells[number])
        for cell in self._cells[len(text) : before]:
            self._group.remove(cell)
        self._stands[kept:] = [None] * (len(self._cells) - kept)
        del self._ends[kept + 1 :]
        self._ends[0] = self.x if self._is_held_left else self.x + self.width
        for letter in text[kept:]:
            room, _, _ = self._pictures.get(letter) or self._pictured(letter)
            self._ends.append(self._ends[-1] + (room if self._is_held_left else -room))
        self._stretch()

    def _left(self, number: int) -> float:
        """Left end of a cell, px."""
        return self._ends[number if self._is_held_left else number + 1]

    def _pictured(self, letter: str) -> Pictured:
        """A letter as it stands in each of its cells, for which there is room from now on wherever it comes up."""
        font_px, narrowed = self._type
        texture = picture(letter, font_px, self.bold)
        wide, y = round(texture.width * narrowed), round(self.y + self.height / 2 - texture.height / 2)
        room, aside = float(wide), 0.0
        if letter in CELL_CHARACTERS or letter == ".":
            below_px = int(NO_INK * font_px)
            texture, y = inked(letter, font_px, self.bold, below_px), y + below_px
        if letter in CELL_CHARACTERS:
            room, aside = self._figure_px, (self._figure_px - wide) / 2
            self._figure_rows = y, y + texture.height
            self._stands_out_px = max(self._stands_out_px, ceil(-aside))
        low, top = self._rows
        self._rows = min(low, y), max(top, y + texture.height)
        found = self._pictures[letter] = room, texture, ((wide, texture.height), aside, y)
        self._stretch()
        return found

    def _stretch(self) -> None:
        """Reach as far as any letter that came up does wherever one has stood."""
        (low, high), out = self._rows, self._stands_out_px
        begin, end = sorted((self._ends[0], self._ends[-1]))
        self._extent = min(self._extent[0], floor(begin - out)), max(self._extent[1], ceil(end + out))
        self._reach = (self._extent[0], low, self._extent[1], high) if self._pictures else super().bounds

"""Figures that never jump: every digit has a cell of one width, and every character's picture is made once.

What changes with every indication is written with these: nothing is drawn into a new texture while jaws move.
"""

from __future__ import annotations

from array import array
from itertools import compress, count
from math import ceil, floor, inf
from operator import ne

from kivy.graphics import Color, Mesh
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, OptionProperty, StringProperty
from msgspec import Struct

from ui.touch.widgets.basics import Bounded, Bounds
from ui.touch.widgets.lettering import Sheet, sheet

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

CORNERS, TRIANGLES = 4, (0, 1, 2, 0, 2, 3)
NUMBERS = 4 * CORNERS  # of a letter on the mesh: place in the window and in the texture, of each corner

MOST_ROOMS = 32  # then all are made again as they come

# How wide a letter's cell is, its left end there, its width, foot and top, px, and its left, right, foot and top in the
# texture, as parts of it.
Pictured = tuple[float, float, int, int, int, float, float, float, float]


class _Room(Struct, frozen=True, kw_only=True):
    """The cells of one form: their ends, the held end before them, px, the mesh's indices, and what each letter that
    came up in one of them is there."""

    ends: list[float]
    indices: list[int]
    known: dict[tuple[int, str], array[float]]


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
        self._sheet: Sheet | None = None  # until its place is known
        self._rooms: dict[str, _Room] = {}  # by form, for numbers come to the same ones again and again
        self._room = _Room(ends=[0.0], indices=[], known={})
        self._quads = array("f")  # the letters as they are drawn
        self._letters = self._form = ""  # in them, and what takes which room
        self._type, self._figure_px = (0.0, 1.0), 0.0  # size of the type in px, how far narrowed; width of a figure
        self._pictures: dict[str, Pictured] = {}
        self._rows = self._figure_rows = NOTHING_YET  # foot and top of the letters, and of the figures
        self._extent = NOTHING_YET  # from the left to the right, of all that stood here
        self._stands_out_px = 0  # the widest letter, on each side of its cell
        self._reach: Bounds = (0.0, 0.0, 0.0, 0.0)
        # The first and the last cell that was written over since that was asked for; None where more has changed.
        self._written: tuple[int, int] | None = None
        self._ink, self._mesh = Color(*self.color), Mesh(mode="triangles")
        self.canvas.add(self._ink)
        self.canvas.add(self._mesh)
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
        begin, end = self._room.ends[written[0]], self._room.ends[written[1] + 1]
        out, (low, top) = self._stands_out_px, self._figure_rows
        return (begin - out, low, end + out, top) if self._is_held_left else (end - out, low, begin + out, top)

    def _colour(self, *_changed: object) -> None:
        self._ink.rgba, self._written = self.color, None

    def _place(self, *_changed: object) -> None:
        """Another place or type: no letter stands as it stood."""
        self._is_held_left, self._pictures, self._rooms, self._stands_out_px = self.align == "left", {}, {}, 0
        self._rows = self._figure_rows = self._extent = NOTHING_YET
        font_px, narrowed = self._type = round(self.font_px, 1), self.narrowed
        self._make_room("", "")
        # A type that nothing is written in, as while places are being found, is not made.
        self._sheet = sheet(font_px, self.bold) if font_px and self.text else None
        if self._sheet is not None:
            self._figure_px = self._sheet.slot("0").wide * narrowed
            self._mesh.texture = self._sheet.texture
            self._write()

    def _write(self, *_changed: object) -> None:
        """Another number. Only letters that are others are touched."""
        if self._sheet is None:
            if self.text:
                self._place()
            return
        text = self.text if self._is_held_left else self.text[::-1]
        form = text.translate(_CELLS)
        if form != self._form:
            self._make_room(text, form)
        before, self._letters, quads = self._letters, text, self._quads
        others = [*compress(count(), map(ne, text, before))]
        for number in others:
            letter, at = text[number], NUMBERS * number
            quads[at : at + NUMBERS] = self._room.known.get((number, letter)) or self._quad(number, letter)
        if others:
            self._mesh.vertices = quads
            if self._written is not None:
                self._written = min(self._written[0], others[0]), max(self._written[1], others[-1])
        if self._mesh.texture is not self._sheet.texture:
            self._place()

    def _quad(self, number: int, letter: str) -> array[float]:
        """A letter in its cell, each worked out once: figures come again."""
        _, aside, wide, foot, top, u, u_end, v_foot, v_top = self._pictures.get(letter) or self._pictured(letter)
        left = round(self._room.ends[number if self._is_held_left else number + 1] + aside)
        right = left + wide
        corners = (left, foot, u, v_foot, right, foot, u_end, v_foot, right, top, u_end, v_top, left, top, u, v_top)
        quad = self._room.known[number, letter] = array("f", corners)
        return quad

    def _make_room(self, text: str, form: str) -> None:
        """A cell for each letter; where those before took the same room, they stay, and others go on or come off."""
        kept = min(len(form), len(self._form))
        if form[:kept] != self._form[:kept]:
            kept = 0
        self._letters, self._form, self._written = self._letters[:kept].ljust(len(text), NONE_YET), form, None
        self._room = self._rooms.get(form) or self._room_of(text, form)
        cells = max(1, len(text))  # a mesh is never empty
        self._quads = self._quads[: NUMBERS * kept] + array("f", bytes(self._quads.itemsize * NUMBERS * (cells - kept)))
        self._mesh.indices = self._room.indices
        self._mesh.vertices = self._quads
        self._stretch()

    def _room_of(self, text: str, form: str) -> _Room:
        """That of a form that has not come up yet where this stands."""
        ends = [self.x if self._is_held_left else self.x + self.width]
        for letter in text:
            room = (self._pictures.get(letter) or self._pictured(letter))[0]
            ends.append(ends[-1] + (room if self._is_held_left else -room))
        indices = [at + corner for at in range(0, CORNERS * max(1, len(text)), CORNERS) for corner in TRIANGLES]
        if len(self._rooms) >= MOST_ROOMS:
            self._rooms.clear()
        found = self._rooms[form] = _Room(ends=ends, indices=indices, known={})
        return found

    def _pictured(self, letter: str) -> Pictured:
        """A letter as it stands in each of its cells, for which there is room from now on wherever it comes up."""
        font_px, narrowed = self._type
        assert self._sheet is not None
        slot, texture = self._sheet.slot(letter), self._sheet.texture
        wide, high, row = round(slot.wide * narrowed), slot.high, slot.row
        room, aside, foot = float(wide), 0.0, round(self.y + self.height / 2 - high / 2)
        if letter in CELL_CHARACTERS or letter == ".":
            below_px = int(NO_INK * font_px)
            foot, row, high = foot + below_px, row + below_px, high - 2 * below_px
        if letter in CELL_CHARACTERS:
            room, aside = self._figure_px, (self._figure_px - wide) / 2
            self._figure_rows = foot, foot + high
            self._stands_out_px = max(self._stands_out_px, ceil(-aside))
        low, top = self._rows
        self._rows = min(low, foot), max(top, foot + high)
        u, u_end = slot.left / texture.width, (slot.left + slot.wide) / texture.width
        v_foot, v_top = (row + high) / texture.height, row / texture.height
        found = self._pictures[letter] = room, aside, wide, foot, foot + high, u, u_end, v_foot, v_top
        self._stretch()
        return found

    def _stretch(self) -> None:
        """Reach as far as any letter that came up does wherever one has stood."""
        (low, high), out = self._rows, self._stands_out_px
        begin, end = sorted((self._room.ends[0], self._room.ends[-1]))
        self._extent = min(self._extent[0], floor(begin - out)), max(self._extent[1], ceil(end + out))
        self._reach = (self._extent[0], low, self._extent[1], high) if self._pictures else super().bounds

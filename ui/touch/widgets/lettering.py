"""Pictures of letters and lines, made once and kept: nothing that moves draws into a new texture."""

from functools import lru_cache
from math import ceil

from kivy.app import App
from kivy.core.image import ImageData
from kivy.core.text import Label as TextTexture
from kivy.graphics import Rectangle
from kivy.graphics.texture import Texture
from msgspec import Struct

from core.said import Part

# The vocabulary of lamps and figures is far smaller; sizes change only with the window.
KEPT = 512
# Types of figures that are kept; on a sheet the breadth and the height in sizes of its type, and what is left free.
SHEETS, SHEET_WIDE, SHEET_HIGH, APART_PX = 12, 8.0, 2.5, 2
WIDEST_PX = 2048  # wider ones are not to be had on every board; from memory


@lru_cache(maxsize=KEPT)
def picture(text: str, font_px: float, bold: bool = False) -> Texture:
    """One line of text, white; the colour is laid over it."""
    label = TextTexture(text=text, font_size=font_px, bold=bold, color=(1, 1, 1, 1))
    label.refresh()
    return label.texture


def half_height(font_px: float) -> float:
    """How far a line's picture reaches above its middle, and below, at most, px."""
    return 0.6 * font_px + 1.0


class Slot(Struct, frozen=True, kw_only=True):
    """Where a letter lies on its sheet, in its own size, px; rows are counted from the top."""

    left: int
    row: int
    wide: int
    high: int


class Sheet:
    """The letters of one type in one texture, each put there when it first comes up: a row of them is one piece to
    draw. A full sheet goes on in another `texture`, twice as high; who holds the one before draws with that."""

    def __init__(self, font_px: float, bold: bool) -> None:
        self._font_px, self._bold = font_px, bold
        self._slots: dict[str, Slot] = {}
        self._free = 0, 0  # where the next one goes: left and row
        wide_px = min(WIDEST_PX, ceil(SHEET_WIDE * font_px))
        self.texture = _empty(wide_px, ceil(SHEET_HIGH * font_px))

    def slot(self, letter: str) -> Slot:
        """Where this letter lies in the texture."""
        found = self._slots.get(letter)
        return self._put(letter) if found is None else found

    def _put(self, letter: str) -> Slot:
        label = TextTexture(text=letter, font_size=self._font_px, bold=self._bold, color=(1, 1, 1, 1))
        label.refresh()
        wide, high = label.texture.size
        left, row = self._free
        if left + wide > self.texture.width:
            left, row = 0, row + high + APART_PX
        if row + high > self.texture.height:
            self._grow()
            return self._put(letter)
        label.texture = _Place(texture=self.texture, left=left, row=row)
        label.render(real=True)
        self._free = left + wide + APART_PX, row
        slot = self._slots[letter] = Slot(left=left, row=row, wide=wide, high=high)
        return slot

    def _grow(self) -> None:
        letters, self._slots, self._free = [*self._slots], {}, (0, 0)
        self.texture = _empty(self.texture.width, 2 * self.texture.height)
        for letter in letters:
            self._put(letter)


class _Place(Struct, frozen=True, kw_only=True):
    """A place in a texture, for the one who letters."""

    texture: Texture
    left: int
    row: int

    def blit_data(self, data: ImageData) -> None:
        """Put what was lettered there."""
        size, place = (data.width, data.height), (self.left, self.row)
        self.texture.blit_buffer(data.data, size=size, colorfmt=data.fmt, pos=place)


def _empty(wide_px: int, high_px: int) -> Texture:
    texture = Texture.create(size=(wide_px, high_px), colorfmt="rgba")
    texture.blit_buffer(bytes(wide_px * high_px * 4), colorfmt="rgba")
    return texture


@lru_cache(maxsize=SHEETS)
def sheet(font_px: float, bold: bool) -> Sheet:
    """That of one type; types change only with the window."""
    return Sheet(font_px, bold)


def _as_said(text: Part, font_px: float, bold: bool) -> Texture:
    return picture(App.get_running_app().speech.say(text), round(font_px, 1), bold)


def written_width(text: Part, font_px: float, *, bold: bool = False) -> float:
    """How wide `write` makes it, px."""
    return float(_as_said(text, font_px, bold).width)


def write(
    text: Part,
    x: float,
    middle: float,
    font_px: float,
    *,
    bold: bool = False,
    centred: bool = False,
    narrowed: float = 1.0,
) -> None:
    """Add one line to the canvas that is open: its left end (or its centre) at x, its middle at `middle`, its letters
    `narrowed` to this part of their own width.

    It is worded as the person is spoken to.
    """
    if not text:
        return
    texture = _as_said(text, font_px, bold)
    wide = texture.width * narrowed
    left = x - wide / 2 if centred else x
    Rectangle(
        texture=texture, pos=(round(left), round(middle - texture.height / 2)), size=(round(wide), texture.height)
    )

"""Pictures of letters and lines, made once and kept: nothing that moves draws into a new texture."""

from functools import lru_cache

from kivy.app import App
from kivy.core.text import Label as TextTexture
from kivy.graphics import Rectangle
from kivy.graphics.texture import Texture

from core.said import Part

# The vocabulary of lamps and figures is far smaller; sizes change only with the window.
KEPT = 512


@lru_cache(maxsize=KEPT)
def picture(text: str, font_px: float, bold: bool = False) -> Texture:
    """One line of text, white; the colour is laid over it."""
    label = TextTexture(text=text, font_size=font_px, bold=bold, color=(1, 1, 1, 1))
    label.refresh()
    return label.texture


def half_height(font_px: float) -> float:
    """How far a line's picture reaches above its middle, and below, at most, px."""
    return 0.6 * font_px + 1.0


@lru_cache(maxsize=KEPT)
def inked(text: str, font_px: float, bold: bool, empty_px: int) -> Texture:
    """The same without so many empty rows below it and above."""
    whole = picture(text, font_px, bold)
    return whole.get_region(0, empty_px, whole.width, whole.height - 2 * empty_px)


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

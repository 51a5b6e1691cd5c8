"""What every drawing of the gantry has: the bed with its front edge, and the arrow that says where to push."""

from kivy.graphics import Color, Line, Rectangle
from msgspec import Struct

from ui.pages.theme import Palette
from ui.touch.widgets.gantry_geometry import Box, Point
from ui.touch.widgets.polygons import fill_polygons


class Push(Struct, frozen=True, kw_only=True):
    """Sizes of an arrow in px; `clear` is how far from the gantry's axis it begins: beside it, not on it."""

    shaft: float
    head: float
    half_head: float
    clear: float


def draw_bed(bed: Box, front_px: float, palette: Palette) -> None:
    """The bed from above; at the thick edge stands whoever reads this."""
    x, y, width, height = bed
    Color(*palette.panel)
    Rectangle(pos=(x, y), size=(width, height))
    Color(*palette.rule)
    Line(rectangle=bed, width=1.2)
    Color(*palette.ink)
    Rectangle(pos=(x, y - front_px), size=(width, front_px))


def draw_push(start: Point, tip: Point, push: Push, palette: Palette) -> None:
    """From the moving end to where it is pushed."""
    point = complex(*tip)
    along = (point - complex(*start)) / abs(point - complex(*start))
    base, neck = complex(*start) + along * push.clear, point - along * push.head
    shaft, head = along * 1j * push.shaft / 2, along * 1j * push.half_head
    outlines = ([base - shaft, neck - shaft, neck + shaft, base + shaft], [point, neck - head, neck + head])
    Color(*palette.accent)
    fill_polygons([[(corner.real, corner.imag) for corner in outline] for outline in outlines])

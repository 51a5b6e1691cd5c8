"""What `?` shows of a screen: one drawing, and the three lines that are about it. Each screen declares its own."""

from msgspec import Struct

from core.said import Said
from ui.touch.pictures.strokes import Fill, Picture, Role, box, frame, line


class Help(Struct, frozen=True):
    """A drawing and three sentences."""

    picture: Picture
    sentences: tuple[Said, Said, Said]


LEANING: Picture = (
    line((20, 16), (72, 16), (84, 84), (32, 84), (20, 16), width=4.0),
    line((20, 16), (20, 84), (72, 84), role=Role.QUIET, width=2.0),
)
STICK: Picture = (box(36, 8, 28, 34), frame(42, 42, 16, 14, line=4.0), box(45, 47, 3, 4), box(52, 47, 3, 4))
SHEET: Picture = (frame(16, 10, 68, 80, line=3.5),)
CALIPER: Picture = (
    box(8, 66, 84, 8),
    Fill(points=((12, 66), (22, 66), (22, 34))),
    Fill(points=((62, 66), (52, 66), (52, 34))),
    frame(46, 62, 34, 18, line=3.0),
)
CABLE: Picture = (line((80, 71), (94, 71), (94, 14), (60, 14), role=Role.QUIET, width=3.0),)


def written(left: float, right: float, *heights: float, role: Role = Role.INK) -> Picture:
    """Level lines, as of writing."""
    return tuple(line((left, y), (right, y), role=role, width=3.0) for y in heights)

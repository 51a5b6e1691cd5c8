"""What a picture is made of: filled areas, lines and circles in a square of 100 by 100, origin lower left.

Colours are parts that things play, not colours: the theme knows what ink and danger look like. Filled areas are convex.
"""

from enum import StrEnum

from msgspec import Struct

Points = tuple[tuple[float, float], ...]


class Role(StrEnum):
    """What a stroke is for."""

    INK = "ink"  # the thing itself
    QUIET = "quiet"  # what is around it
    PAPER = "paper"  # light faces
    ACT = "act"  # what to do, blue
    DANGER = "danger"  # what hurts, red
    GOOD = "good"  # as it should be, green


class Fill(Struct, frozen=True, kw_only=True):
    """A filled convex area."""

    points: Points
    role: Role = Role.INK


class Stroke(Struct, frozen=True, kw_only=True):
    """A line of `width` (of 100) through the points."""

    points: Points
    role: Role = Role.INK
    width: float = 3.0
    closed: bool = False


class Circle(Struct, frozen=True, kw_only=True):
    """A circle, filled where `width` is zero."""

    centre: tuple[float, float]
    radius: float
    role: Role = Role.INK
    width: float = 0.0


Picture = tuple[Fill | Stroke | Circle, ...]


def box(left: float, bottom: float, width: float, height: float, role: Role = Role.INK) -> Fill:
    """A filled rectangle."""
    right, top = left + width, bottom + height
    return Fill(points=((left, bottom), (right, bottom), (right, top), (left, top)), role=role)


def frame(left: float, bottom: float, width: float, height: float, role: Role = Role.INK, line: float = 3.0) -> Stroke:
    """The outline of a rectangle."""
    right, top = left + width, bottom + height
    return Stroke(
        points=((left, bottom), (right, bottom), (right, top), (left, top)), role=role, width=line, closed=True
    )


def line(*points: tuple[float, float], role: Role = Role.INK, width: float = 3.0) -> Stroke:
    """A line through points."""
    return Stroke(points=points, role=role, width=width)


def arrow(start: tuple[float, float], tip: tuple[float, float], role: Role = Role.ACT, width: float = 5.0) -> Picture:
    """An arrow whose head is four times as wide as its shaft."""
    way = complex(tip[0] - start[0], tip[1] - start[1])
    way /= abs(way)
    neck, across = complex(*tip) - way * 3.2 * width, way * 1j * 2.0 * width
    left, right = neck + across, neck - across
    return (
        line(start, (neck.real, neck.imag), role=role, width=width),
        Fill(points=(tip, (left.real, left.imag), (right.real, right.imag)), role=role),
    )


def crossed_out(role: Role = Role.DANGER) -> Picture:
    """Not this: a broad stroke over the whole picture."""
    return (line((12, 12), (88, 88), role=role, width=6.0),)


# The coupon on the bed, its mark at the corner nearest to the operator's left; and the same between jaws.
_COUPON: Picture = (frame(24, 28, 52, 40, line=3.5), line((31, 48), (31, 35), (40, 35), width=4.0))
COUPON_CUT: Picture = (frame(8, 14, 84, 76, role=Role.QUIET, line=2.5), box(8, 8, 84, 6), *_COUPON)
COUPON_MEASURED: Picture = (
    *_COUPON,
    box(10, 78, 80, 7),
    Fill(points=((14, 78), (24, 78), (24, 40))),
    Fill(points=((86, 78), (76, 78), (76, 40))),
)

"""Words for ends and directions: from the machine's axes to what the person standing at the front sees.

Stage: correction. Input: machine axis and sign, and which side of the machine is the front. Output: named ends and
directions. The coupon's words follow its orientation mark, that is the machine's axes; the operator's words follow the
front. On most machines the two agree (Y grows away from the front); on the others everything is turned in steps of a
quarter. A mirrored axis needs no case of its own: it would mirror the mark, and the mark is looked at first.
"""

from __future__ import annotations

from enum import StrEnum

from core.said import Said, said


class Axis(StrEnum):
    """A machine axis."""

    X = "x"
    Y = "y"

    @property
    def other(self) -> Axis:
        """The axis across this one."""
        return Axis.Y if self is Axis.X else Axis.X

    @property
    def vector(self) -> complex:
        """Unit vector of the axis, x as the real and y as the imaginary part."""
        return 1 + 0j if self is Axis.X else 1j


class Front(StrEnum):
    """Which machine axis points away from the operator standing at the front, or towards them."""

    Y_AWAY = "y-away"
    Y_TOWARD = "y-toward"
    X_AWAY = "x-away"
    X_TOWARD = "x-toward"

    def seen(self, machine: complex) -> complex:
        """Turn a vector of the machine's axes into the operator's view (real part to the right, imaginary away)."""
        return machine * _TURN[self]


_TURN: dict[Front, complex] = {Front.Y_AWAY: 1, Front.Y_TOWARD: -1, Front.X_AWAY: 1j, Front.X_TOWARD: -1j}


class Side(StrEnum):
    """An end or a side as the operator sees it from the front."""

    LEFT = "left"
    RIGHT = "right"
    NEAR = "near"
    FAR = "far"

    @property
    def opposite(self) -> Side:
        """The other end."""
        return side_of(-self.vector)

    @property
    def vector(self) -> complex:
        """Unit vector towards this side in the operator's view."""
        return _VECTOR[self]

    @property
    def word(self) -> Said:
        """The word in a sentence: 'left', 'right', 'near', 'far'."""
        return _SIDE_WORD[self]


class Direction(StrEnum):
    """Which way an end is moved, as the operator sees it."""

    LEFT = "left"
    RIGHT = "right"
    NEARER = "nearer"
    FARTHER = "farther"

    @property
    def side(self) -> Side:
        """The side the movement goes to."""
        return _SIDE[self]

    @property
    def opposite(self) -> Direction:
        """The other way."""
        return direction_of(-self.side.vector)

    @property
    def words(self) -> Said:
        """The words in a sentence: 'nearer to you', 'farther from you', 'to the left', 'to the right'.

        A move is said with its caution: see `move_order`, which alone words one.
        """
        return _WORDS[self]


_VECTOR = {Side.LEFT: -1 + 0j, Side.RIGHT: 1 + 0j, Side.NEAR: -1j, Side.FAR: 1j}
_SIDE = {
    Direction.LEFT: Side.LEFT,
    Direction.RIGHT: Side.RIGHT,
    Direction.NEARER: Side.NEAR,
    Direction.FARTHER: Side.FAR,
}
_SIDE_WORD = {
    Side.LEFT: said("left"),
    Side.RIGHT: said("right"),
    Side.NEAR: said("near"),
    Side.FAR: said("far"),
}
_WORDS = {
    Direction.LEFT: said("to the left"),
    Direction.RIGHT: said("to the right"),
    Direction.NEARER: said("nearer to you"),
    Direction.FARTHER: said("farther from you"),
}


def side_of(seen: complex) -> Side:
    """The side a vector of the operator's view points to; it must lie along one of the two directions."""
    return next(side for side, vector in _VECTOR.items() if (seen / vector).real > 0 and (seen / vector).imag == 0)


def direction_of(seen: complex) -> Direction:
    """The direction of a movement given in the operator's view."""
    side = side_of(seen)
    return next(direction for direction, towards in _SIDE.items() if towards is side)

"""A corner from two indications of a tilt gauge. Pure.

The coupon stands upright on a level plate. The gauge is first laid along one edge of the corner, pointing away from
it, then turned about the corner onto the other edge, again pointing away: the turn between the two is the corner,
whatever the gauge's own zero, whether it counts to 360 or signed. (One that counts 0-180 cannot tell 89.6 from 90.4
when it passes its end; the settings refuse it.)
"""

import math


def corner_from_tilts(first_deg: float, second_deg: float) -> float:
    """The turn between two tilts, 0 to 180 degrees."""
    return abs(math.remainder(second_deg - first_deg, 360.0))


class TiltCorner:
    """Keeps the first edge's tilt until the second is there."""

    def __init__(self) -> None:
        self._first_deg: float | None = None

    @property
    def waits_for_second(self) -> bool:
        """True once the first edge's tilt is kept."""
        return self._first_deg is not None

    def keep_first(self, tilt_deg: float) -> None:
        """The gauge lies along the first edge."""
        self._first_deg = tilt_deg

    def corner(self, tilt_deg: float) -> float | None:
        """The corner this indication would give; None before the first edge's tilt is kept."""
        return None if self._first_deg is None else corner_from_tilts(self._first_deg, tilt_deg)

    def reset(self) -> None:
        """Begin with the first edge again."""
        self._first_deg = None

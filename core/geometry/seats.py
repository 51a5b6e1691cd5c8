"""Seats: short flats across the corners, square to the line that joins them, on which the jaws lie for a diagonal.

Stage: geometry of a coupon. In: nominal sides and widths of the seats. Out: where they lie and how far they are apart.
Burning, rounding or crushing of a corner does not reach such a reading. *Keyed* seats are wider on `nl-fr`: diagonals
taken for one another, or a coupon turned over or by a quarter, then look like more than two degrees of skew.

Plane trigonometry only; no outside source.
"""

import math
from functools import lru_cache

from msgspec import Struct

from core.errors import BadInputError
from core.said import Length, Said, Size, said

LEAST_KEY_DEG = 2.0
_LEAST_WIDTH_MM = 5.0
# What the jaws need when they lie straight (common practice), and what a degree askew takes beyond it.
_JAW_MM, _ASKEW_SINE = 3.0, math.sin(math.radians(1.0))
_LARGEST_SHARE = 0.12  # of the shorter side, for seats that are not keyed
_LARGEST_LEG_SHARE = 1.0 / 3.0  # of a side: what is left beside two legs is for the jaws on the edges


class Seats(Struct, frozen=True, kw_only=True):
    """Widths in mm of the two seats of diagonal `nl-fr` and of the two of `nr-fl`; keyed ones are wider on `nl-fr`."""

    nl_fr_mm: float
    nr_fl_mm: float

    def __post_init__(self) -> None:
        for width_mm in (self.nl_fr_mm, self.nr_fl_mm):
            if not (math.isfinite(width_mm) and width_mm > 0.0):
                raise BadInputError(said("seat {width}: it must be wider than nothing", width=Length(width_mm, None)))
        if self.nl_fr_mm < self.nr_fl_mm:
            raise BadInputError(
                said(
                    "seats {nl_fr},{nr_fl}: the first are those of diagonal NL-FR, which has the wider ones",
                    nl_fr=Length(self.nl_fr_mm, None, unit=False),
                    nr_fl=Length(self.nr_fl_mm, None),
                )
            )


class Legs(Struct, frozen=True, kw_only=True):
    """How far a seat reaches from its corner along X and along Y, in mm."""

    along_x_mm: float
    along_y_mm: float


@lru_cache(maxsize=256)
def seat_legs(width_mm: float, height_mm: float, seat_mm: float) -> Legs:
    """Legs of seats of width `seat_mm` in opposite corners of a rectangle, square to the line through their middles.

    Raises BadInputError where they would take more than a third of a side.
    """
    angle = math.atan2(height_mm, width_mm)
    if seat_mm > _LARGEST_LEG_SHARE * math.hypot(width_mm, height_mm):
        raise BadInputError(_too_wide(seat_mm, width_mm, height_mm))
    for _ in range(200):
        before = angle
        angle = math.atan2(height_mm - seat_mm * math.cos(angle), width_mm - seat_mm * math.sin(angle))
        if abs(angle - before) < 1e-15:
            break
    legs = Legs(along_x_mm=seat_mm * math.sin(angle), along_y_mm=seat_mm * math.cos(angle))
    if legs.along_x_mm > _LARGEST_LEG_SHARE * width_mm or legs.along_y_mm > _LARGEST_LEG_SHARE * height_mm:
        raise BadInputError(_too_wide(seat_mm, width_mm, height_mm))
    return legs


def _too_wide(seat_mm: float, width_mm: float, height_mm: float) -> Said:
    return said(
        "seat {seat}: on a coupon of {size} it would take more than a third of a side",
        seat=Length(seat_mm, None),
        size=Size(width_mm, height_mm),
    )


def seat_to_seat_mm(width_mm: float, height_mm: float, seat_mm: float) -> float:
    """Nominal distance between opposite seats of width `seat_mm`."""
    legs = seat_legs(width_mm, height_mm, seat_mm)
    return math.hypot(width_mm - legs.along_x_mm, height_mm - legs.along_y_mm)


def key_deg(width_mm: float, height_mm: float, seats: Seats) -> float:
    """The skew that diagonals taken for one another would show on a square coupon; 0 for equal seats.

    The difference of a rectangle's diagonals grows by 2 W H / d with the skew, d the diagonal from corner to corner.
    """
    difference_mm = seat_to_seat_mm(width_mm, height_mm, seats.nr_fl_mm) - seat_to_seat_mm(
        width_mm, height_mm, seats.nl_fr_mm
    )
    per_radian_mm = 2.0 * width_mm * height_mm / math.hypot(width_mm, height_mm)
    return math.degrees(2.0 * difference_mm / per_radian_mm)


def are_keyed(width_mm: float, height_mm: float, seats: Seats) -> bool:
    """Whether diagonals taken for one another would look like at least two degrees of skew."""
    return key_deg(width_mm, height_mm, seats) >= LEAST_KEY_DEG


def equal_seats(width_mm: float, height_mm: float) -> Seats:
    """The usual width for all four corners: room for the jaws, a whole mm, at most 0.12 of the shorter side."""
    diagonal_mm = math.hypot(width_mm, height_mm)
    askew_mm = diagonal_mm * _ASKEW_SINE * abs(math.cos(2.0 * math.atan2(height_mm, width_mm)))
    whole_mm = math.ceil(max(_LEAST_WIDTH_MM, _JAW_MM + askew_mm) - 1e-9)
    seat_mm = min(float(whole_mm), _LARGEST_SHARE * min(width_mm, height_mm))
    return Seats(nl_fr_mm=seat_mm, nr_fl_mm=seat_mm)


def keyed_seats(width_mm: float, height_mm: float) -> Seats:
    """The usual seats, those of `nl-fr` widened to the first whole mm that keys them.

    A coupon so long and narrow that no room is left for keys gets equal seats: `are_keyed` then says no.
    """
    usual = equal_seats(width_mm, height_mm)
    wider_mm = math.floor(usual.nl_fr_mm) + 1.0
    while True:
        seats = Seats(nl_fr_mm=wider_mm, nr_fl_mm=usual.nr_fl_mm)
        try:
            if are_keyed(width_mm, height_mm, seats):
                return seats
        except BadInputError:
            return usual
        wider_mm += 1.0

"""The coupon as designed: a rectangle, width along machine X, height along machine Y."""

import math

from msgspec import Struct

from core.errors import BadInputError
from core.geometry.features import Feature
from core.geometry.seats import Legs, Seats, seat_legs, seat_to_seat_mm
from core.said import Length, said

MIN_SIDE_MM = 10.0
MAX_SIDE_MM = 4000.0


class Coupon(Struct, frozen=True, kw_only=True):
    """Nominal sizes in mm; the window is an optional rectangle cut out in the middle, None without one.

    `seats` are the flats on which the jaws lie for the diagonals, None where these are read from corner to corner.
    """

    width_mm: float
    height_mm: float
    window_width_mm: float | None = None
    window_height_mm: float | None = None
    seats: Seats | None = None

    def __post_init__(self) -> None:
        for side, side_mm in ((said("width"), self.width_mm), (said("height"), self.height_mm)):
            if not (math.isfinite(side_mm) and MIN_SIDE_MM <= side_mm <= MAX_SIDE_MM):
                raise BadInputError(
                    said(
                        "coupon {side} {length}: it must lie between {least} and {most}",
                        side=side,
                        length=Length(side_mm, None),
                        least=Length(MIN_SIDE_MM, None, unit=False),
                        most=Length(MAX_SIDE_MM, None),
                    )
                )
        for side, window_mm, outer_mm in (
            (said("width"), self.window_width_mm, self.width_mm),
            (said("height"), self.window_height_mm, self.height_mm),
        ):
            if window_mm is not None and not (math.isfinite(window_mm) and 0.0 < window_mm < outer_mm):
                raise BadInputError(
                    said(
                        "window {side} {length}: it must be smaller than the coupon ({coupon})",
                        side=side,
                        length=Length(window_mm, None),
                        coupon=Length(outer_mm, None),
                    )
                )
        if self.seats is not None:
            for seat_mm in (self.seats.nl_fr_mm, self.seats.nr_fl_mm):
                seat_legs(self.width_mm, self.height_mm, seat_mm)

    @property
    def shorter_side_mm(self) -> float:
        """The side by which ISO 2768 looks up angular tolerances."""
        return min(self.width_mm, self.height_mm)

    @property
    def diagonal_mm(self) -> float:
        """Nominal length of both diagonals from corner to corner."""
        return math.hypot(self.width_mm, self.height_mm)

    @property
    def features(self) -> tuple[Feature, ...]:
        """Everything that can be measured on it: the ten features, then the sides of its window if it has one."""
        return tuple(feature for feature in Feature if self.has(feature))

    def has(self, feature: Feature) -> bool:
        """False only for the sides of a window this coupon has not."""
        match feature:
            case Feature.WINDOW_WIDTH:
                return self.window_width_mm is not None
            case Feature.WINDOW_HEIGHT:
                return self.window_height_mm is not None
            case _:
                return True

    def seat_mm(self, place: Feature) -> float | None:
        """Width of the seats of a diagonal, or of the seat at a corner; None for other features and without seats."""
        if self.seats is None:
            return None
        match place:
            case Feature.NL_FR | Feature.NL | Feature.FR:
                return self.seats.nl_fr_mm
            case Feature.NR_FL | Feature.NR | Feature.FL:
                return self.seats.nr_fl_mm
            case _:
                return None

    def legs(self, corner: Feature) -> Legs:
        """How far the seat at a corner reaches along both its edges; nothing where there is none."""
        seat_mm = self.seat_mm(corner)
        if seat_mm is None:
            return Legs(along_x_mm=0.0, along_y_mm=0.0)
        return seat_legs(self.width_mm, self.height_mm, seat_mm)

    def nominal(self, feature: Feature) -> float:
        """Nominal value of a feature, in mm or degrees; raises BadInputError for a window the coupon has not."""
        match feature:
            case Feature.NEAR | Feature.FAR:
                return self.width_mm
            case Feature.LEFT | Feature.RIGHT:
                return self.height_mm
            case Feature.NL_FR | Feature.NR_FL:
                seat_mm = self.seat_mm(feature)
                return self.diagonal_mm if seat_mm is None else seat_to_seat_mm(self.width_mm, self.height_mm, seat_mm)
            case Feature.WINDOW_WIDTH | Feature.WINDOW_HEIGHT:
                window_mm = self.window_width_mm if feature is Feature.WINDOW_WIDTH else self.window_height_mm
                if window_mm is None:
                    raise BadInputError(said("{feature}: this coupon has no window", feature=feature.label))
                return window_mm
            case _:
                return 90.0

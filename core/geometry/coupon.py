"""The coupon as designed: a rectangle, width along machine X, height along machine Y."""

from __future__ import annotations

import math
from dataclasses import dataclass

from core.errors import BadInputError
from core.geometry.features import Feature

MIN_SIDE_MM = 10.0
MAX_SIDE_MM = 4000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupon:
    """Nominal sizes in mm; the window is an optional rectangle cut out in the middle, None without one."""

    width_mm: float
    height_mm: float
    window_width_mm: float | None = None
    window_height_mm: float | None = None

    def __post_init__(self) -> None:
        for name, side_mm in (("width", self.width_mm), ("height", self.height_mm)):
            if not (math.isfinite(side_mm) and MIN_SIDE_MM <= side_mm <= MAX_SIDE_MM):
                raise BadInputError(
                    f"coupon {name} {side_mm:g} mm: it must lie between {MIN_SIDE_MM:g} and {MAX_SIDE_MM:g} mm"
                )
        for name, window_mm, outer_mm in (
            ("width", self.window_width_mm, self.width_mm),
            ("height", self.window_height_mm, self.height_mm),
        ):
            if window_mm is not None and not (math.isfinite(window_mm) and 0.0 < window_mm < outer_mm):
                raise BadInputError(
                    f"window {name} {window_mm:g} mm: it must be smaller than the coupon ({outer_mm:g} mm)"
                )

    @property
    def shorter_side_mm(self) -> float:
        """The side by which ISO 2768 looks up angular tolerances."""
        return min(self.width_mm, self.height_mm)

    @property
    def diagonal_mm(self) -> float:
        """Nominal length of both diagonals."""
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

    def nominal(self, feature: Feature) -> float:
        """Nominal value of a feature, in mm or degrees; raises BadInputError for a window the coupon has not."""
        match feature:
            case Feature.NEAR | Feature.FAR:
                return self.width_mm
            case Feature.LEFT | Feature.RIGHT:
                return self.height_mm
            case Feature.NL_FR | Feature.NR_FL:
                return self.diagonal_mm
            case Feature.WINDOW_WIDTH | Feature.WINDOW_HEIGHT:
                window_mm = self.window_width_mm if feature is Feature.WINDOW_WIDTH else self.window_height_mm
                if window_mm is None:
                    raise BadInputError(f"{feature.label}: this coupon has no window")
                return window_mm
            case _:
                return 90.0

"""An affine map of the plane without its shift: what a machine does to a design, or what undoes it.

Axes as on the machine: X to the right, Y away from the operator. Plane linear algebra only.
"""

from __future__ import annotations

import math

from msgspec import Struct

from core.errors import BadInputError
from core.said import said

Point = tuple[float, float]


class Affine(Struct, frozen=True, kw_only=True):
    """x' = xx x + xy y, y' = yx x + yy y."""

    xx: float
    xy: float
    yx: float
    yy: float

    def __post_init__(self) -> None:
        if not all(math.isfinite(number) for number in (self.xx, self.xy, self.yx, self.yy)) or self.determinant <= 0.0:
            raise BadInputError(said("an affine map must be finite and must not turn the design over"))

    @property
    def determinant(self) -> float:
        """By how much areas grow."""
        return self.xx * self.yy - self.xy * self.yx

    @property
    def inverse(self) -> Affine:
        """The map that undoes this one."""
        d = self.determinant
        return Affine(xx=self.yy / d, xy=-self.xy / d, yx=-self.yx / d, yy=self.xx / d)

    @property
    def y_down(self) -> Affine:
        """The same map in axes whose Y points down, as in SVG."""
        return Affine(xx=self.xx, xy=-self.xy, yx=-self.yx, yy=self.yy)

    def shift_about(self, fixed: Point) -> Point:
        """The shift to add so that the point `fixed` stays where it is."""
        x, y = self.apply(fixed)
        return fixed[0] - x, fixed[1] - y

    def apply(self, point: Point, fixed: Point = (0.0, 0.0)) -> Point:
        """Map a point about a fixed one."""
        x, y = point[0] - fixed[0], point[1] - fixed[1]
        return fixed[0] + self.xx * x + self.xy * y, fixed[1] + self.yx * x + self.yy * y


def cut_by(skew_deg: float, scale_x: float = 0.0, scale_y: float = 0.0) -> Affine:
    """What a machine with this skew and these scales (relative deviations) makes of a design, X lines kept level.

    Positive skew: the Y direction leans to the right, NL and FR become acute.
    """
    skew = math.radians(skew_deg)
    return Affine(xx=1.0 + scale_x, xy=(1.0 + scale_y) * math.sin(skew), yx=0.0, yy=(1.0 + scale_y) * math.cos(skew))

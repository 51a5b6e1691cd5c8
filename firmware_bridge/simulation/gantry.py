"""A simulated gantry machine with hidden faults, and the coupon it cuts. SIMULATED data only.

Input: the machine's hidden truth and a coupon; output: the true value of every feature. Sign conventions are those of
the measuring model: positive skew leaves NL and FR acute and diagonal NL-FR the longer.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping

from msgspec import Struct

from core.geometry import DIAGONALS, EDGES, TEN_FEATURES, WINDOW, Coupon, Feature, edges_of, true_features
from core.geometry.seated_diagonals import seated_diagonals
from core.metrology import DEFAULT_JAW_DEPTH_MM, CouponForm, seated_edges
from core.numeric import np

TYPICAL_FORM = CouponForm(edge_mm=0.01, diagonal_mm=0.03, corner_deg=0.03)
# A coupon turned over about its Y axis: left and right change places.
_TURNED_OVER = {
    Feature.RIGHT: Feature.LEFT,
    Feature.LEFT: Feature.RIGHT,
    Feature.NL_FR: Feature.NR_FL,
    Feature.NR_FL: Feature.NL_FR,
    Feature.NL: Feature.NR,
    Feature.NR: Feature.NL,
    Feature.FR: Feature.FL,
    Feature.FL: Feature.FR,
}


class CutCoupon(Struct, frozen=True, kw_only=True):
    """A coupon as it came off the machine: what a perfect instrument reads at each feature, in mm or degrees, edges
    between jaws seated on the neighbouring edges."""

    values: Mapping[Feature, float]

    def true_value(self, feature: Feature) -> float:
        """Reading of a perfect instrument; raises KeyError for a window the coupon has not."""
        return self.values[feature]

    def turned_over(self) -> CutCoupon:
        """The same piece lying on its other face."""
        return CutCoupon(values={feature: self.values[_TURNED_OVER.get(feature, feature)] for feature in self.values})


class Gantry(Struct, frozen=True, kw_only=True):
    """The machine's hidden truth: skew in degrees, scales and tapers as fractions, gantry span in mm. Kerf (mm) is
    taken from every outside, half from each edge; corner loss (mm) is what a rounded or burnt pair of corners lacks.
    """

    span_mm: float = 640.0
    skew_deg: float = -0.35
    scale_x: float = 0.0
    scale_y: float = 0.0
    taper_x: float = 0.0
    taper_y: float = 0.0
    kerf_mm: float = 0.0
    corner_loss_mm: float = 0.04

    def cut(self, coupon: Coupon, rng: random.Random, form: CouponForm = TYPICAL_FORM) -> CutCoupon:
        """Cut a coupon: the shape model on an outline narrowed by the kerf; form deviations are drawn from `rng`."""
        outline = Coupon(width_mm=coupon.width_mm - self.kerf_mm, height_mm=coupon.height_mm - self.kerf_mm)
        skew_rad, length_y = math.radians(self.skew_deg), 1.0 + self.scale_y
        shape = np.array(
            [
                self.scale_x,
                length_y * math.cos(skew_rad) - 1.0,
                length_y * math.sin(skew_rad),
                self.taper_x,
                self.taper_y,
            ]
        )
        values = dict(zip(TEN_FEATURES, true_features(outline, shape)[0].tolist(), strict=True))
        if coupon.window_width_mm is not None and coupon.window_height_mm is not None:
            sizes = (coupon.window_width_mm * (1.0 + self.scale_x), coupon.window_height_mm * length_y)
            # The cutter widens a window by as much as it narrows the outside.
            values |= {name: size_mm + self.kerf_mm for name, size_mm in zip(WINDOW, sizes, strict=True)}
        a, b, g, tx, ty = shape.tolist()
        edges = edges_of(coupon, (a, b, g, tx, ty), math.hypot)
        seated = seated_edges(coupon, DEFAULT_JAW_DEPTH_MM, edges, math.hypot)[0]
        # The cutter takes half its kerf off every edge and off every seat.
        values |= {edge: length_mm - self.kerf_mm for edge, length_mm in zip(EDGES, seated, strict=True)}
        if coupon.seats is None:
            values |= {diagonal: values[diagonal] - self.corner_loss_mm for diagonal in DIAGONALS}
        else:
            between = seated_diagonals(coupon, coupon.seats, (a, b, g, tx, ty), edges, math.hypot)[0]
            values |= {name: length_mm - self.kerf_mm for name, length_mm in zip(DIAGONALS, between, strict=True)}
        for feature in values:
            values[feature] += rng.gauss(0.0, form.of(feature.kind, coupon))
        return CutCoupon(values=values)

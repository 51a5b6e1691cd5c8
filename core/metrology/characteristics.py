"""From an adjustment to the characteristics a drawing tolerances: perpendicularity, corners, diagonals, edges.

Stage: between adjustment and verdict. In: an Adjustment and Limits. Out: Characteristics with value, standard
uncertainty (law of propagation, JCGM 100:2008, 5.2) and guarded verdict. Perpendicularity is signed: shorter side
x cos(corner), positive at an acute corner (ISO 2768-2 looks it up by the shorter side).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import skew_deg, true_features
from core.metrology.adjustment import Adjustment, FloatArray
from core.metrology.expansion import ExpansionDifference
from core.metrology.tolerances import Limits
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, conformance_probability, judge


class Scope(StrEnum):
    """What is judged. The quick check judges squareness by the skew alone, so that two diagonals are enough."""

    ALL = "all"
    SQUARENESS = "squareness"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurand:
    """A function of the shape: its value, its gradient (5,) by the shape parameters, and its limit, None without."""

    name: str
    label: str
    group: CharacteristicGroup
    unit: str
    nominal: float
    value: float
    gradient: FloatArray
    limit: float | None


def characteristics(
    adjustment: Adjustment,
    limits: Limits,
    *,
    scope: Scope = Scope.ALL,
    expansion: ExpansionDifference | None = None,
) -> tuple[Characteristic, ...]:
    """All characteristics, judged where they have a limit, for information where not; mm and degrees.

    `expansion` brings the edges to 20 degrees Celsius; squareness does not change with temperature. In an inconsistent
    adjustment every judged characteristic is inconsistent: none of its values can be believed.
    """
    return tuple(
        _judged(measurand, adjustment, expansion if measurand.group is CharacteristicGroup.SIZE else None)
        for measurand in measurands(adjustment, limits, scope)
    )


def measurands(adjustment: Adjustment, limits: Limits, scope: Scope) -> tuple[Measurand, ...]:
    """What the characteristics are made of, in the same order: values and gradients at the adjusted shape."""
    edges = _edges(adjustment, limits) if scope is Scope.ALL else []
    return (*_squareness(adjustment, limits, scope), *edges)


def _squareness(adjustment: Adjustment, limits: Limits, scope: Scope) -> list[Measurand]:
    """All perpendicularities, then all corners, then the diagonals' difference, as a person reads them."""
    values, jacobian = true_features(adjustment.coupon, adjustment.parameters)
    rows = dict(zip(TEN_FEATURES, zip(values, jacobian, strict=True), strict=True))
    if scope is Scope.SQUARENESS:
        # The corner between the mean X and the mean Y direction: what is left of the four when nothing tapers.
        skew, gradient = skew_deg(adjustment.parameters)
        corners = [("mean", "by skew", 90.0 - skew, -gradient)]
    else:
        corners = [(name.value, f"at {name.value.upper()}", float(rows[name][0]), rows[name][1]) for name in CORNERS]
    longer, shorter = (rows[feature] for feature in DIAGONALS)
    return [
        *(_perpendicularity(adjustment.coupon, limits, *corner) for corner in corners),
        *(_corner(limits, *corner) for corner in corners),
        Measurand(
            name="diagonal-difference",
            label="diagonal NL-FR less NR-FL",
            group=CharacteristicGroup.SQUARENESS,
            unit="mm",
            nominal=0.0,
            value=float(longer[0] - shorter[0]),
            gradient=longer[1] - shorter[1],
            limit=limits.diagonal_mm,
        ),
    ]


def _perpendicularity(
    coupon: Coupon, limits: Limits, name: str, where: str, angle_deg: float, gradient: FloatArray
) -> Measurand:
    """Perpendicularity of one corner; `gradient` (5,) is that of the angle in degrees."""
    side_mm, angle = coupon.shorter_side_mm, math.radians(angle_deg)
    return Measurand(
        name=f"perpendicularity-{name}",
        label=f"perpendicularity {where}",
        group=CharacteristicGroup.SQUARENESS,
        unit="mm",
        nominal=0.0,
        value=side_mm * math.cos(angle),
        gradient=-side_mm * math.sin(angle) * np.radians(gradient),
        limit=limits.perpendicularity_mm,
    )


def _corner(limits: Limits, name: str, where: str, angle_deg: float, gradient: FloatArray) -> Measurand:
    return Measurand(
        name=f"corner-{name}",
        label=f"corner {where}",
        group=CharacteristicGroup.SQUARENESS,
        unit="deg",
        nominal=90.0,
        value=angle_deg,
        gradient=gradient,
        limit=limits.corner_deg,
    )


def _edges(adjustment: Adjustment, limits: Limits) -> list[Measurand]:
    coupon = adjustment.coupon
    values, jacobian = true_features(coupon, adjustment.parameters)
    edge_limits = {
        Feature.NEAR: limits.width_edge_mm,
        Feature.FAR: limits.width_edge_mm,
        Feature.LEFT: limits.height_edge_mm,
        Feature.RIGHT: limits.height_edge_mm,
    }
    return [
        Measurand(
            name=f"edge-{feature.value}",
            label=feature.label,
            group=CharacteristicGroup.SIZE,
            unit="mm",
            nominal=coupon.nominal(feature),
            value=float(values[row]),
            gradient=jacobian[row],
            limit=edge_limits[feature],
        )
        for row, feature in enumerate(EDGES)
    ]


def _judged(
    measurand: Measurand, adjustment: Adjustment, expansion: ExpansionDifference | None = None
) -> Characteristic:
    estimate = adjustment.estimate(measurand.value, measurand.gradient)
    if expansion is not None:
        estimate = expansion.at_reference(estimate)
    lower = upper = probability = None
    verdict = Verdict.UNDECIDED
    if measurand.limit is not None:
        lower, upper = measurand.nominal - measurand.limit, measurand.nominal + measurand.limit
        probability = conformance_probability(estimate.value, estimate.u, lower, upper)
        verdict = judge(estimate.value, estimate.u, lower, upper) if adjustment.consistent else Verdict.INCONSISTENT
    return Characteristic(
        name=measurand.name,
        label=measurand.label,
        group=measurand.group if measurand.limit is not None else CharacteristicGroup.INFORMATION,
        unit=measurand.unit,
        value=estimate.value,
        u=estimate.u,
        nominal=measurand.nominal,
        lower=lower,
        upper=upper,
        verdict=verdict,
        conformance_probability=probability,
    )

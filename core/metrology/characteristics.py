"""From an adjustment to the characteristics a drawing tolerances: squareness, corners, diagonals, edges.

Stage: between adjustment and verdict. In: an Adjustment and Limits. Out: Characteristics with value, standard
uncertainty (law of propagation, JCGM 100:2008, 5.2) and guarded verdict, in three groups:

    squareness  shorter side x tan(skew), against the perpendicularity limit (ISO 2768-2 looks it up by that side)
    shape       each corner beyond the common skew, own corner limits, opposite edges unequal, the diagonals' difference
    size        the four edges

Where squareness has no perpendicularity limit, the skew is held against the corners' or the diagonals' limit. Opposite
edges may differ by the whole size tolerance (ISO 2768-2, parallelism; from memory). Positive at an acute corner NL.
"""

import math
from collections.abc import Collection, Sequence
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import (
    CORNERS,
    DIAGONALS,
    EDGES,
    SHAPE_PARAMETERS,
    TEN_FEATURES,
    Coupon,
    Feature,
    feature_rows,
    skew_deg,
)
from core.metrology.adjustment import Adjustment, Estimate
from core.metrology.expansion import ExpansionDifference
from core.metrology.tolerances import Limits
from core.metrology.two_skews import TwoSkews
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, judge
from core.numeric import np
from core.said import Name, Said, said

GROUPS = (CharacteristicGroup.SQUARENESS, CharacteristicGroup.SHAPE, CharacteristicGroup.SIZE)


class Scope(StrEnum):
    """What a session was opened for: whatever is read is judged, or squareness alone (the quick check)."""

    ALL = "all"
    SQUARENESS = "squareness"


Gradient = Sequence[float]


class Measurand(Struct, frozen=True, kw_only=True, eq=False):
    """A function of the shape: its value, its gradient (five) by the shape parameters, and its limit, None without."""

    name: str
    label: Said
    group: CharacteristicGroup
    unit: str
    nominal: float
    value: float
    gradient: Gradient
    limit: float | None


def characteristics(
    adjustment: Adjustment,
    measured: Collection[Measurand],
    expansion: ExpansionDifference | None = None,
) -> tuple[Characteristic, ...]:
    """The measurands judged where they have a limit, for information where not; mm and degrees.

    `expansion` brings the edges to 20 degrees Celsius; squareness does not change with temperature. In an inconsistent
    adjustment every judged characteristic is inconsistent: none of its values can be believed.
    """
    if not measured:
        return ()
    estimates = adjustment.estimates([m.value for m in measured], np.array([m.gradient for m in measured]))
    return tuple(
        _judged(measurand, estimate, adjustment, expansion)
        for measurand, estimate in zip(measured, estimates, strict=True)
    )


def in_two_ways(one: Characteristic, by: TwoSkews, coupon: Coupon) -> tuple[Characteristic, ...]:
    """Squareness by lengths beside squareness by corners, in place of `one`, which is the average of both."""
    several = []
    for way, label, skew in (("lengths", _BY_LENGTHS, by.lengths), ("corners", _BY_CORNERS, by.corners)):
        if skew is None:
            continue
        value, u = skew.value, skew.u
        if one.unit == "mm":
            tangent = math.tan(math.radians(skew.value))
            value = coupon.shorter_side_mm * tangent
            u = coupon.shorter_side_mm * (1.0 + tangent * tangent) * math.radians(skew.u)
        verdict = one.verdict
        if one.lower is not None and one.upper is not None:
            verdict = judge(value, u, one.lower, one.upper, skew.nu)
        name, words = f"{one.name}-by-{way}", label[one.unit]
        several.append(replace(one, name=name, label=words, value=value, u=u, nu=skew.nu, verdict=verdict))
    return tuple(several)


def measurands(
    adjustment: Adjustment, limits: Limits, groups: Collection[CharacteristicGroup] = GROUPS
) -> tuple[Measurand, ...]:
    """What the characteristics of some groups are made of: values and gradients at the adjusted shape.

    The difference of the diagonals is always among them, for information where nothing limits it.
    """
    a, b, g, tx, ty = adjustment.parameters[:SHAPE_PARAMETERS].tolist()
    values, gradients = feature_rows(adjustment.coupon, (a, b, g, tx, ty), math.hypot, math.atan2)
    rows = dict(zip(TEN_FEATURES, zip(values, gradients, strict=True), strict=True))
    of_skew = skew_deg(adjustment.parameters)
    skew = (of_skew[0], of_skew[1].tolist())
    found = [
        _squareness(adjustment.coupon, limits, skew),
        *_shape(adjustment.coupon, limits, skew, rows),
        *_edges(adjustment.coupon, limits, rows),
    ]
    return tuple(m for m in found if m.group in groups or m.name == _DIFFERENCE)


_DIFFERENCE = "diagonal-difference"
SKEW_NAMES = ("squareness", "skew")  # of the one characteristic that the skew is
_SQUARENESS, _SKEW = said("squareness"), said("skew")
_BY_LENGTHS = {"mm": said("squareness by lengths"), "deg": said("skew by lengths")}
_BY_CORNERS = {"mm": said("squareness by corners"), "deg": said("skew by corners")}
_LONGER_LESS_SHORTER = said("diagonal NL-FR less NR-FL")
_FAR_LESS_NEAR, _RIGHT_LESS_LEFT = said("far edge less near"), said("right edge less left")
_BEYOND = {c: said("perpendicularity at {corner} beyond the skew", corner=Name(c.value.upper())) for c in CORNERS}
_CORNER = {c: said("corner at {corner}", corner=Name(c.value.upper())) for c in CORNERS}
_Row = tuple[float, Gradient]  # a value and its gradient
_Rows = dict[Feature, _Row]
# At these corners a positive skew makes the angle smaller, at the others larger.
_LEANING = {Feature.NL: 1.0, Feature.NR: -1.0, Feature.FR: 1.0, Feature.FL: -1.0}


def _squareness(coupon: Coupon, limits: Limits, skew: _Row) -> Measurand:
    value, gradient = skew
    name, label, unit, limit = "skew", _SKEW, "deg", limits.corner_deg
    if limits.perpendicularity_mm is not None or limits.corner_deg is None:
        name, label, unit, limit = "squareness", _SQUARENESS, "mm", limits.perpendicularity_mm
        tangent = math.tan(math.radians(value))
        slope = coupon.shorter_side_mm * (1.0 + tangent * tangent) * math.radians(1.0)
        value, gradient = coupon.shorter_side_mm * tangent, [slope * part for part in gradient]
    return Measurand(
        name=name,
        label=label,
        group=CharacteristicGroup.SQUARENESS,
        unit=unit,
        nominal=0.0,
        value=value,
        gradient=gradient,
        limit=limit,
    )


def _shape(coupon: Coupon, limits: Limits, skew: _Row, rows: _Rows) -> list[Measurand]:
    """All perpendicularities, then all corners, then opposite edges and the diagonals, as a person reads them."""
    unequal = [
        _difference(name, label, rows[first], rows[second], None if limit is None else 2.0 * limit)
        for name, label, first, second, limit in (
            ("taper-x", _FAR_LESS_NEAR, Feature.FAR, Feature.NEAR, limits.width_edge_mm),
            ("taper-y", _RIGHT_LESS_LEFT, Feature.RIGHT, Feature.LEFT, limits.height_edge_mm),
        )
    ]
    longer, shorter = (rows[feature] for feature in DIAGONALS)
    difference = _difference(_DIFFERENCE, _LONGER_LESS_SHORTER, longer, shorter, limits.diagonal_mm)
    if limits.perpendicularity_mm is None and limits.corner_deg is None:
        difference = replace(difference, group=CharacteristicGroup.SQUARENESS)
    return [
        *(_perpendicularity(coupon, limits, corner, rows[corner], skew) for corner in CORNERS),
        *(_corner(limits, corner, *rows[corner]) for corner in CORNERS),
        *unequal,
        difference,
    ]


def _perpendicularity(coupon: Coupon, limits: Limits, corner: Feature, angle: _Row, skew: _Row) -> Measurand:
    """Perpendicularity of one corner beyond the common skew."""
    side_mm, leaning = coupon.shorter_side_mm, _LEANING[corner]
    beyond = math.radians(angle[0] + leaning * skew[0])
    slope = -side_mm * math.sin(beyond) * math.radians(1.0)
    return Measurand(
        name=f"perpendicularity-{corner.value}",
        label=_BEYOND[corner],
        group=CharacteristicGroup.SHAPE,
        unit="mm",
        nominal=0.0,
        value=side_mm * math.cos(beyond),
        gradient=[slope * (one + leaning * common) for one, common in zip(angle[1], skew[1], strict=True)],
        limit=limits.perpendicularity_mm,
    )


def _corner(limits: Limits, corner: Feature, angle_deg: float, gradient: Gradient) -> Measurand:
    return Measurand(
        name=f"corner-{corner.value}",
        label=_CORNER[corner],
        group=CharacteristicGroup.SHAPE,
        unit="deg",
        nominal=90.0,
        value=angle_deg,
        gradient=gradient,
        limit=limits.corner_deg,
    )


def _difference(name: str, label: Said, first: _Row, second: _Row, limit: float | None) -> Measurand:
    return Measurand(
        name=name,
        label=label,
        group=CharacteristicGroup.SHAPE,
        unit="mm",
        nominal=0.0,
        value=first[0] - second[0],
        gradient=[one - other for one, other in zip(first[1], second[1], strict=True)],
        limit=limit,
    )


def _edges(coupon: Coupon, limits: Limits, rows: _Rows) -> list[Measurand]:
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
            value=rows[feature][0],
            gradient=rows[feature][1],
            limit=edge_limits[feature],
        )
        for feature in EDGES
    ]


def _judged(
    measurand: Measurand, estimate: Estimate, adjustment: Adjustment, expansion: ExpansionDifference | None
) -> Characteristic:
    if expansion is not None and measurand.group is CharacteristicGroup.SIZE:
        estimate = expansion.at_reference(estimate)
    lower = upper = None
    verdict = Verdict.UNDECIDED
    if measurand.limit is not None:
        lower, upper = measurand.nominal - measurand.limit, measurand.nominal + measurand.limit
        verdict = Verdict.INCONSISTENT
        if adjustment.consistent:
            verdict = judge(estimate.value, estimate.u, lower, upper, estimate.nu)
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
        nu=estimate.nu,
    )

"""Skew over the bed: coupons cut over a grid on the bed, what they have in common, and what is local.

Stage: history. Input: places on the bed with the value measured there. Output: the common value, how it changes over
the bed with significance, and what is left. Weighted least squares of `common + along x + along y + along both`.
What each change means is geometry of a gantry on two rails; causes are common practice.
"""

import math
from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct

from core.errors import BadInputError
from core.machine.directions import Axis
from core.metrology import Estimate, chi_square_quantile
from core.numeric import FloatArray, np
from core.said import Angle, Name, Said, Series, paragraph, said

FEWEST_PLACES = 4
_LOCAL_SDS = 3.29  # 0.1 %, two-sided normal: the local test of the adjustment


class Pattern(StrEnum):
    """How the skew changes over the bed."""

    ALONG_X = "along-x"
    ALONG_Y = "along-y"
    TWIST = "twist"


class Place(Struct, frozen=True, kw_only=True):
    """A coupon's name, its middle on the bed (mm, machine axes) and its skew."""

    name: str
    x_mm: float
    y_mm: float
    skew_deg: Estimate


class PatternFinding(Struct, frozen=True, kw_only=True):
    """The change of skew from one edge of the grid to the other, in degrees; None where the grid cannot tell it."""

    pattern: Pattern
    change_deg: Estimate | None
    proven: bool
    text: Said


class BedMap(Struct, frozen=True, kw_only=True):
    """Common skew, its patterns, what the patterns leave at every place (degrees), and places that stand out."""

    common_deg: Estimate
    patterns: tuple[PatternFinding, ...]
    left_deg: tuple[float, ...]
    outstanding: tuple[int, ...]
    scatter_proven: bool
    text: Series

    @property
    def whole_text(self) -> Series:
        """With what is not proven, where there is room for it."""
        return paragraph(self.text, *(finding.text for finding in self.patterns if not finding.proven))


def bed_map(places: Sequence[Place], gantry_axis: Axis = Axis.X) -> BedMap:
    """Fit common skew and patterns to a grid of coupons; at least four places, raises BadInputError below."""
    if len(places) < FEWEST_PLACES:
        raise BadInputError(
            said(
                "skew over the bed needs {fewest} coupons or more, {given} given",
                fewest=FEWEST_PLACES,
                given=len(places),
            )
        )
    columns, patterns = _columns(places)
    values = np.array([place.skew_deg.value for place in places])
    sds = np.array([place.skew_deg.u for place in places])
    solution, C, outstanding = _fit(columns, values, sds)
    left = values - columns @ solution
    kept = np.delete(np.arange(len(places)), outstanding)
    nu = len(kept) - columns.shape[1]
    chi_square = float(np.sum((left[kept] / sds[kept]) ** 2))
    scatter = nu > 0 and chi_square > chi_square_quantile(0.95, float(nu))
    findings = _findings(patterns, solution, C, gantry_axis)
    common = Estimate(value=float(solution[0]), u=math.sqrt(float(C[0, 0])))
    return BedMap(
        common_deg=common,
        patterns=findings,
        left_deg=tuple(float(value) for value in left),
        outstanding=outstanding,
        scatter_proven=scatter,
        text=paragraph(*_sentences(common, findings, places, left, outstanding, scatter)),
    )


def _fit(columns: FloatArray, values: FloatArray, sds: FloatArray) -> tuple[FloatArray, FloatArray, tuple[int, ...]]:
    """Solution, covariance, and the places left out one by one because they stand out, the worst first (snooping)."""
    out: list[int] = []
    while True:
        kept = np.delete(np.arange(len(values)), out)
        J = columns[kept] / sds[kept, np.newaxis]
        C: FloatArray = np.asarray(np.linalg.inv(J.T @ J), dtype=np.float64)
        solution = C @ (J.T @ (values[kept] / sds[kept]))
        # Variance of a residual: the measuring's less what the fit has taken up.
        left_sds = np.sqrt(np.maximum(sds[kept] ** 2 - np.sum((columns[kept] @ C) * columns[kept], axis=1), 1e-12))
        w = np.abs(values[kept] - columns[kept] @ solution) / left_sds
        without = np.delete(columns[kept], int(np.argmax(w)), axis=0)
        spare = len(without) > columns.shape[1] and np.linalg.matrix_rank(without) == columns.shape[1]
        if not spare or float(np.max(w)) <= _LOCAL_SDS:
            return solution, C, tuple(out)
        out.append(int(kept[int(np.argmax(w))]))


def _columns(places: Sequence[Place]) -> tuple[FloatArray, tuple[Pattern, ...]]:
    """Design matrix: common, and those patterns the grid can tell apart; coordinates from -1 to 1 over the grid."""
    x, y = (_spread(np.array(axis)) for axis in zip(*((p.x_mm, p.y_mm) for p in places), strict=True))
    columns = [np.ones(len(places))]
    patterns: list[Pattern] = []
    for pattern, column in ((Pattern.ALONG_X, x), (Pattern.ALONG_Y, y), (Pattern.TWIST, x * y)):
        trial = np.column_stack([*columns, column])
        if np.linalg.matrix_rank(trial, tol=1e-6) == trial.shape[1]:
            columns.append(column)
            patterns.append(pattern)
    return np.column_stack(columns), tuple(patterns)


def _spread(axis: FloatArray) -> FloatArray:
    half = (float(np.max(axis)) - float(np.min(axis))) / 2.0
    middle = (float(np.max(axis)) + float(np.min(axis))) / 2.0
    return (axis - middle) / half if half > 0.0 else np.zeros_like(axis)


def _findings(
    patterns: Sequence[Pattern], solution: FloatArray, C: FloatArray, gantry_axis: Axis
) -> tuple[PatternFinding, ...]:
    findings = []
    for pattern in Pattern:
        if pattern not in patterns:
            text = said("This grid cannot tell a change {where}: spread the coupons over it.", where=_OVER[pattern])
            findings.append(PatternFinding(pattern=pattern, change_deg=None, proven=False, text=text))
            continue
        place = 1 + patterns.index(pattern)
        change = Estimate(value=2.0 * float(solution[place]), u=2.0 * math.sqrt(float(C[place, place])))
        proven = abs(change.value) > change.U95
        amount = Angle(change.value, 3, u_deg=change.U95, signed=True)
        if proven:
            text = said(
                "The skew changes by {amount} {where}: {cause}",
                amount=amount,
                where=_OVER[pattern],
                cause=_cause(pattern, gantry_axis),
            )
        else:
            text = said("No change: {amount} {where}.", amount=amount, where=_OVER[pattern])
        findings.append(PatternFinding(pattern=pattern, change_deg=change, proven=proven, text=text))
    return tuple(findings)


def _cause(pattern: Pattern, gantry_axis: Axis) -> Said:
    """Along the gantry its own bow shows, along the travel its turning; both at once a twist."""
    if pattern is Pattern.TWIST:
        return said("a twist: the rails are not in one plane, or the gantry's bow changes as it travels.")
    along_gantry = (pattern is Pattern.ALONG_X) is (gantry_axis is Axis.X)
    if along_gantry:
        return said("the gantry is bowed: no setting of its ends takes that out.")
    return said("the gantry turns as it travels: one rail or one side's drive differs from the other.")


def _sentences(
    common: Estimate,
    findings: Sequence[PatternFinding],
    places: Sequence[Place],
    left: FloatArray,
    outstanding: Sequence[int],
    scatter: bool,
) -> list[Said]:
    told = [
        said(
            "Common skew {common}, {coupons} coupons.",
            common=Angle(common.value, 3, u_deg=common.U95, signed=True),
            coupons=len(places),
        )
    ]
    proven = [finding for finding in findings if finding.proven]
    told += [finding.text for finding in proven]
    if not proven:
        told.append(said("No change over the bed is proven."))
    told += [
        said(
            "Coupon {name} stands out, {off} from the rest: cut it again.",
            name=Name(places[number].name),
            off=Angle(float(left[number]), 3, signed=True),
        )
        for number in outstanding
    ]
    if scatter and not outstanding:
        told.append(
            said("The coupons differ by more than they are measured, in no simple pattern: play, or a local bend.")
        )
    return told


_OVER = {
    Pattern.ALONG_X: said("over the bed along X"),
    Pattern.ALONG_Y: said("over the bed along Y"),
    Pattern.TWIST: said("from one pair of opposite corners to the other"),
}

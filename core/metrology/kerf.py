"""Why the sizes are off: kerf takes equal millimetres everywhere, a wrong scale equal per cent.

Stage: after the adjustment, beside the size verdict. In: adjusted outer sizes with their covariance, and the readings
of an inner window where there is one. Out: a SizeFinding. An outer size is N s - k, an inner one N s + k (N nominal, s
scale, k width of the cut over both sides): with a window both come out, without one only their sum does, and then
equal millimetres are tested before equal per cent. Generalised least squares by whitening (Aitken, 1935; from memory).
"""

import math
from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct

from core.geometry import WINDOW, Feature, scale_y
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.adjustment import Adjustment, Estimate
from core.metrology.distributions import chi_square_quantile
from core.metrology.expansion import ExpansionDifference
from core.metrology.least_squares import least_squares_step
from core.metrology.readings import Method, Quantity, Reading
from core.numeric import FloatArray, np
from core.said import NOTHING, Length, Number, Part, paragraph, said

# A cause is dropped when the sizes contradict it at 5 %: it costs a second look, not a coupon.
CONTRADICTION = 0.05


class SizeCause(StrEnum):
    """What the sizes point to."""

    NONE = "none"  # no deviation proven
    KERF = "kerf"  # equal millimetres
    SCALE = "scale"  # equal per cent
    UNEQUAL = "unequal"  # neither: X and Y differ
    SEPARATED = "separated"  # a window told kerf and scales apart


class SizeFinding(Struct, frozen=True, kw_only=True):
    """What the sizes say. `kerf_mm` is what the cut takes over both sides, less what the controller allows for.

    `scale_x` and `scale_y` are relative deviations (0.001 is 1 mm a metre). Without a window each is given only under
    the assumption that it is the one cause, and `ambiguous` says that the other would fit as well. With a window,
    `contradictory` says that both axes do not agree on one kerf.
    """

    cause: SizeCause
    kerf_mm: Estimate | None
    scale_x: Estimate | None
    scale_y: Estimate | None
    ambiguous: bool
    contradictory: bool
    text: Part


def size_finding(
    adjustment: Adjustment,
    readings: Sequence[Reading],
    setup: MeasuringSetup,
    expansion: ExpansionDifference | None = None,
) -> SizeFinding | None:
    """What the sizes say of kerf and scale; None before an edge along X and one along Y are read.

    Warmth acts like a scale, so `expansion` is taken off the scales: what is left of them is the machine's.
    """
    read = {reading.feature for reading in adjustment.readings}
    if not {Feature.NEAR, Feature.FAR} & read or not {Feature.LEFT, Feature.RIGHT} & read:
        return None
    if any(reading.feature in WINDOW for reading in readings):
        return _with_window(adjustment, readings, setup, expansion)
    return _without_window(adjustment, expansion)


def _at_reference(scale: Estimate, expansion: ExpansionDifference | None) -> Estimate:
    """The scale a coupon of 20 degrees Celsius would show."""
    if expansion is None:
        return scale
    length = expansion.at_reference(Estimate(value=1.0 + scale.value, u=scale.u))
    return Estimate(value=length.value - 1.0, u=length.u)


def _sizes_mm(adjustment: Adjustment) -> FloatArray:
    return np.array([adjustment.coupon.width_mm, adjustment.coupon.height_mm])


def _outer_covariance(adjustment: Adjustment) -> FloatArray:
    """Covariance of mean width and mean height, (2, 2), in mm^2."""
    gradients = np.zeros((2, 5))
    gradients[0, 0] = 1.0
    _, gradients[1] = scale_y(adjustment.parameters)
    gradients *= _sizes_mm(adjustment)[:, np.newaxis]
    return gradients @ adjustment.covariance[:5, :5] @ gradients.T


def _with_window(
    adjustment: Adjustment,
    readings: Sequence[Reading],
    setup: MeasuringSetup,
    expansion: ExpansionDifference | None,
) -> SizeFinding:
    """Scales, kerf and the inner jaws' own zero from outer sizes and window readings."""
    coupon = adjustment.coupon
    outer_mm = _sizes_mm(adjustment) * np.array([adjustment.scale_x.value, adjustment.scale_y.value])
    rows = [[coupon.width_mm, 0.0, -1.0, 0.0], [0.0, coupon.height_mm, -1.0, 0.0]]
    observed = list(outer_mm)
    # Jaws seated on both sides of the window read across it, as they do on the edges.
    cos = math.cos(math.radians(adjustment.skew_deg.value)) if setup.edge_method is EdgeMethod.SEATED else 1.0
    variances = []
    for axis, feature in enumerate(WINDOW):
        repeats = [reading for reading in readings if reading.feature is feature]
        if not repeats:
            continue
        nominal_mm = coupon.nominal(feature)
        row = [0.0, 0.0, cos, 1.0]
        row[axis] = nominal_mm * cos
        rows.append(row)
        observed.append(sum(reading.value for reading in repeats) / len(repeats) - nominal_mm * cos)
        typed = any(reading.method is Method.TYPED for reading in repeats)
        variances.append(
            setup.caliper.mean_variance(
                len(repeats),
                setup.form.edge_mm,
                setup.set_variance(Quantity.LENGTH, Method.TYPED if typed else Method.CABLE),
            )
        )
    covariance = np.diag([0.0, 0.0, *variances])
    covariance[:2, :2] = _outer_covariance(adjustment)
    zero_weight = 1.0 / max(setup.caliper.zero_sd, 1e-6) ** 2
    solution, C, chi_square = _weighted(
        np.array(rows), np.array(observed), covariance, np.array([0.0, 0.0, 0.0, zero_weight])
    )
    x, y, kerf = (Estimate(value=float(solution[i]), u=math.sqrt(max(float(C[i, i]), 0.0))) for i in range(3))
    x, y = _at_reference(x, expansion), _at_reference(y, expansion)
    # Both windows' readings leave one redundancy: whether X and Y agree on one kerf.
    contradictory = len(variances) == 2 and chi_square > chi_square_quantile(1.0 - CONTRADICTION, 1.0)
    return SizeFinding(
        cause=SizeCause.SEPARATED,
        kerf_mm=kerf,
        scale_x=x,
        scale_y=y,
        ambiguous=False,
        contradictory=contradictory,
        text=_separated_text(kerf, x, y, contradictory=contradictory),
    )


def _without_window(adjustment: Adjustment, expansion: ExpansionDifference | None) -> SizeFinding:
    """The one cause that the outer sizes do not contradict: none, then equal millimetres, then equal per cent."""
    sizes_mm = _sizes_mm(adjustment)
    scale_x, scale_y_ = (_at_reference(scale, expansion) for scale in (adjustment.scale_x, adjustment.scale_y))
    deviations_mm = sizes_mm * np.array([scale_x.value, scale_y_.value])
    covariance = _outer_covariance(adjustment)
    if expansion is not None:  # its error would be the same share of both sizes
        covariance = covariance + expansion.u**2 * np.outer(sizes_mm, sizes_mm)
    weights: FloatArray = np.linalg.inv(covariance).astype(np.float64)
    one = chi_square_quantile(1.0 - CONTRADICTION, 1.0)
    as_nominal = float(deviations_mm @ weights @ deviations_mm)
    kerf, kerf_chi_square = _single_cause(np.array(_ALIKE), deviations_mm, weights)
    scale, scale_chi_square = _single_cause(sizes_mm, deviations_mm, weights)
    ambiguous = False
    text: Part
    if as_nominal <= chi_square_quantile(1.0 - CONTRADICTION, 2.0):
        cause, text = SizeCause.NONE, said("Sizes: no deviation from nominal is proven.")
    elif kerf_chi_square <= one:
        ambiguous = scale_chi_square <= one
        cause, text = SizeCause.KERF, _kerf_text(kerf, scale, ambiguous=ambiguous)
    elif scale_chi_square <= one:
        cause, text = SizeCause.SCALE, _scale_text(scale)
    else:
        cause, text = SizeCause.UNEQUAL, _unequal_text(scale_x, scale_y_)
    of_scale = {SizeCause.SCALE: (scale, scale), SizeCause.UNEQUAL: (scale_x, scale_y_)}.get(cause, (None, None))
    return SizeFinding(
        cause=cause,
        kerf_mm=kerf if cause is SizeCause.KERF else None,
        scale_x=of_scale[0],
        scale_y=of_scale[1],
        ambiguous=ambiguous,
        contradictory=False,
        text=text,
    )


_ALIKE = (-1.0, -1.0)  # what a wider cut does to both sizes


def _single_cause(effect: FloatArray, observed: FloatArray, weights: FloatArray) -> tuple[Estimate, float]:
    """The amount of one cause by its effect (2,) on both sizes, and the chi-square of what it leaves unexplained."""
    weighted = effect @ weights
    weight = float(weighted @ effect)
    amount = float(weighted @ observed) / weight
    left = observed - amount * effect
    return Estimate(value=amount, u=1.0 / math.sqrt(weight)), float(left @ weights @ left)


def _weighted(
    jacobian: FloatArray, observed: FloatArray, covariance: FloatArray, prior_weights: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Linear least squares with correlated observations: solution (k,), covariance (k, k), weighted sum of squares."""
    whitening = np.linalg.inv(np.linalg.cholesky(covariance))
    J, white = whitening @ jacobian, whitening @ observed
    solution, C = least_squares_step(J, white, np.zeros(len(prior_weights)), prior_weights)
    residuals = J @ solution - white
    return solution, C, float(residuals @ residuals + solution @ (prior_weights * solution))


def _kerf_text(kerf: Estimate, scale: Estimate, *, ambiguous: bool) -> Part:
    if kerf.value > 0.0:
        text = said(
            "Both sizes are too small by equal millimetres, {kerf}: first suspect, the cut takes more than was allowed "
            "for (kerf).",
            kerf=_mm(kerf),
        )
    else:
        text = said(
            "Both sizes are too large by equal millimetres, {kerf}: first suspect, more kerf was allowed for than is "
            "cut.",
            kerf=_mm(kerf),
        )
    if not ambiguous:
        return text
    return paragraph(
        text,
        said("That takes both scales to be right."),
        said(
            "Equal per cent ({scale}) would fit as well: one coupon without an inner window cannot tell kerf from "
            "scale.",
            scale=_per_cent(scale),
        ),
        said("Cut one with a window before touching steps per mm."),
    )


def _scale_text(scale: Estimate) -> Part:
    if scale.value < 0.0:
        text = said(
            "Both sizes are too small by equal per cent, {scale}, and not by equal millimetres: the scale of both "
            "axes, or heat or moisture in the sheet.",
            scale=_per_cent(scale),
        )
    else:
        text = said(
            "Both sizes are too large by equal per cent, {scale}, and not by equal millimetres: the scale of both "
            "axes, or heat or moisture in the sheet.",
            scale=_per_cent(scale),
        )
    return paragraph(text, said("A coupon with an inner window would prove it."))


def _unequal_text(scale_x: Estimate, scale_y_: Estimate) -> Part:
    return paragraph(
        said(
            "X is off by {scale_x}, Y by {scale_y}: neither equal millimetres nor equal per cent.",
            scale_x=_per_cent(scale_x),
            scale_y=_per_cent(scale_y_),
        ),
        said(
            "Steps per mm or belt stretch of one axis, with kerf in both; an inner window would tell them apart.",
        ),
    )


def _separated_text(kerf: Estimate, scale_x: Estimate, scale_y_: Estimate, *, contradictory: bool) -> Part:
    again = said("But X and Y do not agree on one kerf: read the window again, mid-side.")
    return paragraph(
        said(
            "Told apart by the window: the cut takes {kerf} over both sides; X scale {scale_x}, Y scale {scale_y}.",
            kerf=_mm(kerf),
            scale_x=_per_cent(scale_x),
            scale_y=_per_cent(scale_y_),
        ),
        again if contradictory else NOTHING,
    )


def _mm(estimate: Estimate) -> Length:
    return Length(abs(estimate.value), u_mm=estimate.U95)


def _per_cent(estimate: Estimate) -> Number:
    return Number(100.0 * estimate.value, 2, "%", signed=True, u=100.0 * estimate.U95)

"""The measuring model written a second time, on scipy and numeric derivatives: what the adjustment is compared with.

It shares nothing with core but the names of features and the settings it reads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.readings import Method, Reading

Array = NDArray[np.float64]
NAMES = ("near", "right", "far", "left", "nl-fr", "nr-fl", "nl", "nr", "fr", "fl")


@dataclass(frozen=True)
class ScipyResult:
    parameters: Array
    covariance: Array
    skew_deg: float
    skew_expanded: float
    scale_y: float
    scale_y_expanded: float
    chi_square: float
    nu: float
    consistent: bool
    redundancy: dict[str, float]


def model(p: Array, coupon: Coupon, seated: bool) -> Array:
    """Ten readings from complex-safe formulas: corners first, then distances and angles between them."""
    a, b, g, tx, ty, c0, cl, g0 = p
    W, H = coupon.width_mm, coupon.height_mm
    nominal = np.array([[-W, -H], [W, -H], [W, H], [-W, H]]) / 2.0
    xi, yi = nominal[:, 0], nominal[:, 1]
    x = xi * (1 + a) + g * yi + tx * xi * yi / (H / 2)
    y = yi * (1 + b) + ty * xi * yi / (W / 2)
    corner = x + 1j * y

    def length(i: int, j: int) -> float:
        return float(abs(corner[j] - corner[i]))

    def angle(at: int, first: int, second: int) -> float:
        turn = np.angle((corner[second] - corner[at]) / (corner[first] - corner[at]))
        return float(np.degrees(turn))

    cos = np.cos(np.arctan2(g, 1 + b)) if seated else 1.0
    edges = [length(0, 1) * cos + c0, length(1, 2) * cos + c0, length(3, 2) * cos + c0, length(0, 3) * cos + c0]
    diagonals = [length(0, 2) + c0 - cl, length(1, 3) + c0 - cl]
    corners = [angle(0, 1, 3) + g0, angle(1, 2, 0) + g0, angle(2, 3, 1) + g0, angle(3, 0, 2) + g0]
    return np.array(edges + diagonals + corners)


def observations(readings: Sequence[Reading], setup: MeasuringSetup) -> tuple[list[int], Array, Array]:
    """Indices, means and sds; repeats of one feature must share their method."""
    form = [setup.form.edge_mm] * 4 + [setup.form.diagonal_mm] * 2 + [setup.form.corner_deg] * 4
    rows, means, sds = [], [], []
    for i, name in enumerate(NAMES):
        repeats = [r for r in readings if r.feature == Feature(name)]
        if not repeats:
            continue
        tool = setup.gauge if i >= 6 else setup.caliper
        rep = tool.repeatability
        if repeats[0].method is Method.TYPED:
            rep = setup.typed_repeatability_deg if i >= 6 else setup.typed_repeatability_mm
        n = len(repeats)
        rows.append(i)
        means.append(sum(r.value for r in repeats) / n)
        sds.append(np.sqrt((rep**2 + tool.resolution**2 / 12) / n + tool.linearity**2 / 3 + form[i] ** 2))
    return rows, np.array(means), np.array(sds)


def jacobian(p: Array, coupon: Coupon, seated: bool) -> Array:
    """Five-point central differences."""
    columns = []
    for k in range(8):
        h = 1e-4 if k < 5 else 1e-2
        e = np.eye(8)[k] * h
        columns.append(
            (
                -model(p + 2 * e, coupon, seated)
                + 8 * model(p + e, coupon, seated)
                - 8 * model(p - e, coupon, seated)
                + model(p - 2 * e, coupon, seated)
            )
            / (12 * h)
        )
    return np.array(columns).T


def adjust_with_scipy(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> ScipyResult:
    rows, means, sds = observations(readings, setup)
    seated = setup.edge_method is EdgeMethod.SEATED
    prior_mean = np.array([0, 0, 0, 0, 0, setup.caliper.zero, 0, setup.gauge.zero])
    prior_sd = np.array([0.05] * 5 + [setup.caliper.zero_sd, 0.3, setup.gauge.zero_sd])

    def residuals(z: Array) -> Array:
        p = prior_mean + prior_sd * z
        return np.concatenate([(model(p, coupon, seated)[rows] - means) / sds, z])

    def slopes(z: Array) -> Array:
        J = jacobian(prior_mean + prior_sd * z, coupon, seated)[rows] * prior_sd
        return np.vstack([J / sds[:, None], np.eye(8)])

    fit = least_squares(residuals, np.zeros(8), jac=slopes, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    p = prior_mean + prior_sd * fit.x
    J = slopes(fit.x)
    C = np.linalg.inv(J.T @ J)
    redundancy = 1 - np.einsum("ij,jk,ik->i", J, C, J)
    n = len(rows)
    tested = np.concatenate([fit.fun[:n], fit.fun[n + 5 :]])
    chi_square = float(tested @ tested)
    nu = float(redundancy[:n].sum() + redundancy[n + 5 :].sum())
    covariance = np.outer(prior_sd, prior_sd) * C
    h = np.hypot(p[2], 1 + p[1])
    skew_slope = np.degrees([-p[2] / h**2, (1 + p[1]) / h**2])
    scale_slope = np.array([(1 + p[1]) / h, p[2] / h])
    part = covariance[1:3, 1:3]
    return ScipyResult(
        parameters=p,
        covariance=covariance,
        skew_deg=float(np.degrees(np.arctan2(p[2], 1 + p[1]))),
        skew_expanded=1.959963984540054 * float(np.sqrt(skew_slope @ part @ skew_slope)),
        scale_y=float(h - 1),
        scale_y_expanded=1.959963984540054 * float(np.sqrt(scale_slope @ part @ scale_slope)),
        chi_square=chi_square,
        nu=nu,
        consistent=bool((nu < 0.5 or chi_square <= chi2.ppf(0.999, nu)) and np.all(np.abs(fit.x[:5]) <= 4)),
        redundancy={NAMES[row]: float(r) for row, r in zip(rows, redundancy[:n], strict=True)},
    )

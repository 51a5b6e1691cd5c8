"""The measuring model written a second time, on scipy and numeric derivatives: what the adjustment is compared with.

It shares nothing with core but the names of features and the settings it reads.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares
from scipy.stats import chi2, f, t as student

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.readings import Method, Reading

Array = NDArray[np.float64]
NAMES = ("near", "right", "far", "left", "nl-fr", "nr-fl", "nl", "nr", "fr", "fl")


class ScipyResult(Struct, frozen=True):
    parameters: Array
    covariance: Array
    skew_deg: float
    skew_expanded: float
    skew_nu: float
    scale_y: float
    scale_y_expanded: float
    chi_square: float
    nu: float
    nu_of_weights: float
    consistent: bool
    redundancy: dict[str, float]


def seat_legs(coupon: Coupon, width: float) -> complex:
    """Legs along X and Y of a seat square to the line between the middles of two such, by a root of the condition."""
    W, H = coupon.width_mm, coupon.height_mm

    def askew(angle: float) -> float:
        leg = width * (np.sin(angle) + 1j * np.cos(angle))
        return float(((W + 1j * H - leg) * np.exp(-1j * angle)).imag)

    angle = brentq(askew, 0.0, np.pi / 2.0, xtol=1e-15)
    return complex(width * np.sin(angle), width * np.cos(angle))


def model(p: Array, coupon: Coupon, setup: MeasuringSetup) -> Array:
    """Ten readings: corners as complex numbers first, then lines between them."""
    a, b, g, tx, ty, c0, cl, g0 = p
    W, H = coupon.width_mm, coupon.height_mm
    nominal = np.array([[-W, -H], [W, -H], [W, H], [-W, H]]) / 2.0
    xi, yi = nominal[:, 0], nominal[:, 1]
    x = xi * (1 + a) + g * yi + tx * xi * yi / (H / 2)
    y = yi * (1 + b) + ty * xi * yi / (W / 2)
    corner = x + 1j * y
    widths = (0.0, 0.0) if coupon.seats is None else (coupon.seats.nl_fr_mm, coupon.seats.nr_fl_mm)
    legs = [seat_legs(coupon, widths[i % 2]) if widths[i % 2] else 0j for i in range(4)]

    def unit(i: int, j: int) -> complex:
        return complex((corner[j] - corner[i]) / abs(corner[j] - corner[i]))

    def across(first: complex, second: complex, way: complex) -> float:
        """Distance of two points square to a direction."""
        return abs(float(((second - first) * np.conj(way)).imag) / abs(way))

    def edge(i: int, j: int, beyond_i: int, beyond_j: int, along_y: bool) -> float:
        if setup.edge_method is EdgeMethod.TIPS:
            return float(abs(corner[j] - corner[i]))
        ends = []
        for at, beyond in ((i, beyond_i), (j, beyond_j)):
            depth = (legs[at].imag if along_y else legs[at].real) + setup.jaw_depth_mm / 2.0
            ends.append(corner[at] + depth * unit(at, beyond))
        return across(ends[0], ends[1], unit(i, beyond_i) + unit(j, beyond_j))

    def diagonal(i: int, j: int) -> float:
        if coupon.seats is None:
            return float(abs(corner[j] - corner[i]))
        chords, middles = [], []
        for at in (i, j):
            x_way, y_way = unit(at, at ^ 1), unit(at, 3 - at)
            ends = corner[at] + legs[at].real * x_way, corner[at] + legs[at].imag * y_way
            chords.append(ends[1] - ends[0])
            middles.append((ends[0] + ends[1]) / 2.0)
        return across(middles[0], middles[1], chords[0] - chords[1])

    def angle(at: int, first: int, second: int) -> float:
        turn = np.angle((corner[second] - corner[at]) / (corner[first] - corner[at]))
        return float(np.degrees(turn))

    edges = [edge(0, 1, 3, 2, True), edge(1, 2, 0, 3, False), edge(3, 2, 0, 1, True), edge(0, 3, 1, 2, False)]
    diagonals = [diagonal(0, 2) - cl, diagonal(1, 3) - cl]
    corners = [angle(0, 1, 3) + g0, angle(1, 2, 0) + g0, angle(2, 3, 1) + g0, angle(3, 0, 2) + g0]
    return np.array([length + c0 for length in edges + diagonals] + corners)


def learned_variances(
    readings: Sequence[Reading], setup: MeasuringSetup
) -> dict[tuple[bool, Method], tuple[float, float]]:
    """s^2 and its degrees of freedom of every instrument and method."""
    learned = {}
    for length in (True, False):
        for method in Method:
            mine = [r for r in readings if r.feature.is_length is length and r.method is method]
            groups = [[r.value for r in mine if r.feature is f] for f in {r.feature for r in mine}]
            S, nu1 = sum(np.var(g) * len(g) for g in groups), sum(len(g) - 1 for g in groups)
            tool = setup.caliper if length else setup.gauge
            rep = tool.repeatability
            if method is Method.TYPED:
                rep = setup.typed_repeatability_mm if length else setup.typed_repeatability_deg
            s0 = rep**2 + tool.resolution**2 / 12
            nu0 = 1 if nu1 and S / s0 > chi2.ppf(0.95, nu1) else 6
            learned[length, method] = max((nu0 * s0 + S) / (nu0 + nu1), tool.resolution**2 / 12), float(nu0 + nu1)
    return learned


def observations(
    coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup
) -> tuple[list[int], Array, Array, Array, Array]:
    """Indices, means, sds, learned parts of their variances and what these are known with.

    Repeats of one feature must share their method.
    """
    diagonal_form = setup.form.diagonal_mm if coupon.seats is None else setup.form.seat_mm
    form = [setup.form.edge_mm] * 4 + [diagonal_form] * 2 + [setup.form.corner_deg] * 4
    learned = learned_variances(readings, setup)
    rows, means, sds, parts, nus = [], [], [], [], []
    for i, name in enumerate(NAMES):
        repeats = [r for r in readings if r.feature == Feature(name)]
        if not repeats:
            continue
        tool = setup.gauge if i >= 6 else setup.caliper
        n = len(repeats)
        s2, nu = learned[i < 6, repeats[0].method]
        part = max(s2 / n, tool.resolution**2 / 12)
        rows.append(i)
        means.append(sum(r.value for r in repeats) / n)
        sds.append(np.sqrt(part + tool.linearity**2 / 3 + form[i] ** 2))
        parts.append(part)
        nus.append(nu)
    return rows, np.array(means), np.array(sds), np.array(parts), np.array(nus)


def effective(parts: Array, nus: Array, kinds: list[int], total: float) -> float:
    """Welch and Satterthwaite over the two instruments; `parts` of a total variance, row by row."""
    doubt = 0.0
    for of_angle in (False, True):
        mine = [k for k, row in enumerate(kinds) if (row >= 6) is of_angle]
        if mine:
            doubt += parts[mine].sum() ** 2 / nus[mine[0]]
    return total**2 / doubt if doubt else np.inf


def jacobian(p: Array, coupon: Coupon, setup: MeasuringSetup) -> Array:
    """Five-point central differences."""
    columns = []
    for k in range(8):
        h = 1e-4 if k < 5 else 1e-2
        e = np.eye(8)[k] * h
        columns.append(
            (
                -model(p + 2 * e, coupon, setup)
                + 8 * model(p + e, coupon, setup)
                - 8 * model(p - e, coupon, setup)
                + model(p - 2 * e, coupon, setup)
            )
            / (12 * h)
        )
    return np.array(columns).T


def adjust_with_scipy(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> ScipyResult:
    rows, means, sds, parts, nus = observations(coupon, readings, setup)
    prior_mean = np.array([0, 0, 0, 0, 0, setup.caliper.zero, 0, setup.gauge.zero])
    loss_sd = 0.3 if coupon.seats is None else 0.5
    scales = [min(0.05, max(0.02, 1.6 / side_mm)) for side_mm in (coupon.width_mm, coupon.height_mm)]
    prior_sd = np.array([*scales, 0.05, 0.05, 0.05, setup.caliper.zero_sd, loss_sd, setup.gauge.zero_sd])

    def residuals(z: Array) -> Array:
        p = prior_mean + prior_sd * z
        return np.concatenate([(model(p, coupon, setup)[rows] - means) / sds, z])

    def slopes(z: Array) -> Array:
        J = jacobian(prior_mean + prior_sd * z, coupon, setup)[rows] * prior_sd
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
    nu_of_weights = effective(redundancy[:n] * parts / sds**2, nus, rows, nu)
    covariance = np.outer(prior_sd, prior_sd) * C
    h = np.hypot(p[2], 1 + p[1])

    def expanded(by_b: float, by_g: float) -> tuple[float, float]:
        slope = np.array([0, by_b, by_g, 0, 0, 0, 0, 0])
        variance = float(slope @ covariance @ slope)
        # One shift of a mean reading, carried through the normal equations.
        shifts = (slope * prior_sd) @ C @ J[:n].T / sds
        of_skew = effective(shifts**2 * parts, nus, rows, variance)
        return float(student.ppf(0.975, of_skew)) * np.sqrt(variance), of_skew

    skew_expanded, skew_nu = expanded(*np.degrees([-p[2] / h**2, (1 + p[1]) / h**2]))
    limit = f.ppf(0.999, nu, nu_of_weights) * nu if np.isfinite(nu_of_weights) and nu >= 0.5 else np.inf
    return ScipyResult(
        parameters=p,
        covariance=covariance,
        skew_deg=float(np.degrees(np.arctan2(p[2], 1 + p[1]))),
        skew_expanded=skew_expanded,
        skew_nu=skew_nu,
        scale_y=float(h - 1),
        scale_y_expanded=expanded((1 + p[1]) / h, p[2] / h)[0],
        chi_square=chi_square,
        nu=nu,
        nu_of_weights=nu_of_weights,
        consistent=bool((nu < 0.5 or chi_square <= limit) and np.all(np.abs(fit.x[:5]) <= 4)),
        redundancy={NAMES[row]: float(r) for row, r in zip(rows, redundancy[:n], strict=True)},
    )

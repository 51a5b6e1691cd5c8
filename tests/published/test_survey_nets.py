"""Surveying quadrilaterals of sides, diagonals and angles, our own set of observations, against published adjustments.

Sources beside each. v = adjusted less observed, w = v / sd of v, r = redundancy number. Lengths are in the sources'
metres; the solver does not mind.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from core.geometry.coupon import Coupon
from core.geometry.shape import true_features
from core.metrology.least_squares import Solution, gauss_newton
from core.metrology.reliability import redundancy_numbers, standardised_residual

Array = NDArray[np.float64]
Points = dict[str, Array]


def solved(model: Callable[[Array], tuple[Array, Array]], observed: Array, sd: Array, start: Array) -> Solution:
    """Weighted solution without priors."""

    def weighted(parameters: Array) -> tuple[Array, Array]:
        predicted, jacobian = model(parameters)
        return (observed - predicted) / sd, jacobian / sd[:, None]

    return gauss_newton(weighted, start, prior_mean=start, prior_weights=np.zeros(len(start)))


def redundancy_of(solution: Solution) -> Array:
    return redundancy_numbers(solution.design, solution.covariance)


def degrees(text: str) -> float:
    """'45-12-34' in degrees."""
    d, m, s = (float(part) for part in text.split("-"))
    return d + m / 60.0 + s / 3600.0


# Ghilani, Adjustment Computations, 5th ed., example 16.2: traverse QRST with both diagonals. Its sides, diagonals and
# corners are exactly a coupon's ten features, so the house's own shape model is what is adjusted, with flat priors.
# Published observations; the results of this subset were computed by two independent adjustments.
GHILANI_16_2 = Coupon(width_mm=1600.0, height_mm=1500.0)
DISTANCES = np.array([1640.016, 1320.001, 1579.123, 1664.524, 2105.962, 2266.035])
DISTANCE_SD = np.array([0.026, 0.024, 0.025, 0.026, 0.029, 0.030])
CORNERS = 360.0 - np.array([degrees(t) for t in ("273-24-56.5", "269-57-33.4", "257-32-56.8", "279-04-31.2")])
CORNER_SD = np.array([4.4, 4.7, 4.7, 4.5]) / 3600.0


def test_ghilani_16_2_distances_and_corners() -> None:
    solution = solved(
        lambda shape: true_features(GHILANI_16_2, shape),
        np.concatenate([DISTANCES, CORNERS]),
        np.concatenate([DISTANCE_SD, CORNER_SD]),
        np.zeros(5),
    )
    assert solution.converged
    redundancy = redundancy_of(solution)
    assert redundancy.sum() == pytest.approx(5.0, abs=1e-9)
    assert solution.objective == pytest.approx(0.56903, abs=5e-6)
    adjusted, _ = true_features(GHILANI_16_2, solution.parameters)
    assert adjusted[:6] == pytest.approx([1640.0065, 1320.0041, 1579.1315, 1664.5199, 2105.9641, 2266.0348], abs=5.1e-5)
    assert adjusted[6:] == pytest.approx([86.583790, 90.040394, 102.451119, 80.924698], abs=5.1e-7)
    assert redundancy[:6] == pytest.approx([0.4009, 0.3244, 0.3786, 0.3640, 0.6597, 0.6630], abs=5.1e-5)


def test_ghilani_16_2_distances_alone() -> None:
    def lengths(shape: Array) -> tuple[Array, Array]:
        values, jacobian = true_features(GHILANI_16_2, shape)
        return values[:6], jacobian[:6]

    solution = solved(lengths, DISTANCES, DISTANCE_SD, np.zeros(5))
    assert redundancy_of(solution).sum() == pytest.approx(1.0, abs=1e-9)
    assert solution.objective == pytest.approx(0.00156, abs=5e-6)


def net(
    points_of: Callable[[Array], Points],
    unknowns: Sequence[tuple[str, int]],
    sides: Sequence[str],
    angles: Sequence[tuple[str, str, str]] = (),
) -> Callable[[Array], tuple[Array, Array]]:
    """Model of a plane net: distances, and angles at, from, to, clockwise in degrees, by unknown coordinates."""
    column = {unknown: place for place, unknown in enumerate(unknowns)}

    def row(slopes: dict[tuple[str, int], float]) -> Array:
        line = np.zeros(len(unknowns))
        for unknown, slope in slopes.items():
            if unknown in column:
                line[column[unknown]] += slope
        return line

    def azimuth(points: Points, at: str, to: str) -> tuple[float, dict[tuple[str, int], float]]:
        dx, dy = points[to] - points[at]
        squared = dx * dx + dy * dy
        by_x, by_y = math.degrees(dy / squared), math.degrees(-dx / squared)
        return math.degrees(math.atan2(dx, dy)), {(to, 0): by_x, (to, 1): by_y, (at, 0): -by_x, (at, 1): -by_y}

    def model(parameters: Array) -> tuple[Array, Array]:
        points = points_of(parameters)
        values, rows = [], []
        for first, second in sides:
            dx, dy = points[second] - points[first]
            length = math.hypot(dx, dy)
            c, s = dx / length, dy / length
            values.append(length)
            rows.append(row({(second, 0): c, (second, 1): s, (first, 0): -c, (first, 1): -s}))
        for at, start, end in angles:
            (from_deg, from_slopes), (to_deg, to_slopes) = azimuth(points, at, start), azimuth(points, at, end)
            values.append((to_deg - from_deg) % 360.0)
            rows.append(row(to_slopes) - row(from_slopes))
        return np.array(values), np.array(rows)

    return model


# Ghilani, Adjustment Computations, 5th ed., example 21.10: data snooping in a braced quadrilateral, A and B fixed.
A, B = np.array([5600.544, 4966.236]), np.array([6061.624, 8043.173])
SIDES = ("AB", "BC", "CD", "DA", "AC", "BD")
SIDE_LENGTHS = (3111.291, 3726.220, 3237.783, 3662.372, 5193.471, 4524.471)
SIDE_SD = (0.010, 0.012, 0.010, 0.012, 0.016, 0.014)
ANGLES = (
    ("ABC", "45-12-34"),
    ("ACD", "38-10-54"),
    ("BCD", "44-55-43"),
    ("BDA", "53-31-23"),
    ("CDA", "44-21-59"),
    ("CAB", "36-20-26"),
    ("DAB", "43-06-11"),
    ("DBC", "54-22-00"),
)


def snooped(left_out: str | None) -> tuple[Solution, list[str], Array]:
    """Adjustment without one angle: solution, names of the observations, standardised residuals."""
    angles = [(name, value) for name, value in ANGLES if name != left_out]
    unknowns = (("C", 0), ("C", 1), ("D", 0), ("D", 1))
    model = net(
        lambda p: {"A": A, "B": B, "C": p[:2], "D": p[2:]}, unknowns, SIDES, [(n[0], n[1], n[2]) for n, _ in angles]
    )
    observed = np.array([*SIDE_LENGTHS, *(degrees(value) for _, value in angles)])
    sd = np.array([*SIDE_SD, *(2.1 / 3600.0 for _ in angles)])
    solution = solved(model, observed, sd, np.array([9787.823, 8038.529, 9260.886, 4843.911]))
    assert solution.converged
    w = [
        standardised_residual(-closing, 1.0, r)
        for closing, r in zip(solution.misclosure, redundancy_of(solution), strict=True)
    ]
    return solution, [*SIDES, *(name for name, _ in angles)], np.array(w)


def test_ghilani_21_10_data_snooping_finds_the_blunder() -> None:
    solution, names, w = snooped(left_out=None)
    redundancy = redundancy_of(solution)
    assert redundancy.sum() == pytest.approx(10.0, abs=1e-6)
    assert solution.objective == pytest.approx(863.0039, abs=5e-4)
    worst = int(np.argmax(np.abs(w)))
    assert names[worst] == "DAB"
    assert w[worst] == pytest.approx(-29.193, abs=5.1e-4)
    assert redundancy[worst] == pytest.approx(0.9664, abs=5.1e-5)


def test_ghilani_21_10_without_the_blunder() -> None:
    solution, _, w = snooped(left_out="DAB")
    assert redundancy_of(solution).sum() == pytest.approx(9.0, abs=1e-6)
    assert solution.objective == pytest.approx(10.7526, abs=5.1e-5)
    assert np.abs(w).max() == pytest.approx(1.878, abs=5.1e-4)
    assert solution.parameters == pytest.approx([9787.83856, 8038.48622, 9260.88291, 4843.87549], abs=5.1e-6)


def test_strang_and_borre_12_4_one_redundancy_sees_a_blunder_but_cannot_place_it() -> None:
    # Strang & Borre, Linear Algebra, Geodesy and GPS (1997), example 12.4: free net of four points, sd 0.010.
    def points_of(p: Array) -> Points:
        return {"P": np.zeros(2), "1": np.array([p[0], 0.0]), "2": p[1:3], "3": p[3:5]}

    unknowns = (("1", 0), ("2", 0), ("2", 1), ("3", 0), ("3", 1))
    observed = np.array([100.01, 100.02, 100.03, 184.785, 141.44, 184.805])
    solution = solved(
        net(points_of, unknowns, ("1P", "2P", "3P", "12", "23", "13")),
        observed,
        np.full(6, 0.010),
        np.array([100.0, -70.7, 70.7, -70.7, -70.7]),
    )
    redundancy = redundancy_of(solution)
    assert redundancy.sum() == pytest.approx(1.0, abs=1e-9)
    assert solution.objective == pytest.approx(1.383829, abs=5.1e-7)
    assert observed - 0.010 * solution.misclosure == pytest.approx(
        [100.0028, 100.0149, 100.0249, 184.7889, 141.4421, 184.8089], abs=5.1e-5
    )
    assert redundancy == pytest.approx([0.3743, 0.1871, 0.1872, 0.1096, 0.0321, 0.1097], abs=5.1e-5)
    w = np.abs(solution.misclosure) / np.sqrt(redundancy)
    assert w == pytest.approx(np.full(6, 1.1764), abs=5.1e-5)


def test_benning_8_2_a_square() -> None:
    # Benning, Statistik in Geodäsie, Geoinformation und Bauwesen (2011), example 8-2.
    def points_of(p: Array) -> Points:
        return {"1": np.array([0.0, 1000.0]), "2": np.array([1000.0, 1000.0]), "3": p[:2], "4": p[2:]}

    solution = solved(
        net(points_of, (("3", 0), ("3", 1), ("4", 0), ("4", 1)), ("13", "14", "23", "24", "34")),
        np.array([1000.02, 1414.20, 1414.24, 999.98, 1000.00]),
        np.full(5, 0.010),
        np.array([0.0, 0.0, 1000.0, 0.0]),
    )
    assert solution.parameters == pytest.approx([-0.00958, -0.02260, 999.99302, 0.01740], abs=5.1e-6)
    assert solution.objective == pytest.approx(0.473676, abs=5.1e-7)

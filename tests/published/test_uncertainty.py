"""Propagation of uncertainty and expanded uncertainty against published worked examples.

- GUM: JCGM 100:2008, examples H.1, H.2, H.3 (read in a public copy, recomputed).
- JCGM 101:2008, 9.2 (read).
- NIST Technical Note 1900, example E13 (read; the uncertainties of the two lengths are from memory).
- Thermal expansion of acrylic: 70e-6 per kelvin, from memory; reference temperature ISO 1:2022.

The adjustment itself is too specific for these data, so the two steps underneath are tested: `estimates`, which every
characteristic goes through, and `least_squares_step`, which every adjustment goes through.
"""

import math

import numpy as np
import pytest

from core.metrology.adjustment import Estimate
from core.metrology.expansion import Material, expansion_difference
from core.metrology.least_squares import least_squares_step
from core.said import said
from tests.published.propagated import propagated


def by_differences(function, values, covariance):
    """`propagated` with central differences for the gradient."""
    values = np.asarray(values, dtype=float)
    steps = 1e-3 * np.sqrt(np.diag(covariance))
    gradient = np.array(
        [
            (function(*(values + step)) - function(*(values - step))) / (2.0 * step[i]) if step[i] else 0.0
            for i, step in enumerate(np.diag(steps))
        ]
    )
    return propagated(np.asarray(covariance, dtype=float), function(*values), gradient)


def test_gum_h1_end_gauge_in_nanometres():
    inputs = (50_000_623.0, 215.0, 0.0, -0.1, 11.5e-6, 0.0)
    u_difference = math.sqrt(5.8**2 + 3.9**2 + 6.7**2)
    u_theta = math.hypot(0.2, 0.5 / math.sqrt(2.0))  # mean temperature, and its arcsine-shaped swing
    sds = (25.0, u_difference, 1e-6 / math.sqrt(3), u_theta, 2e-6 / math.sqrt(3), 0.05 / math.sqrt(3))

    def length(standard, difference, d_alpha, theta, alpha_s, d_theta):
        return standard + difference - standard * (d_alpha * theta + alpha_s * d_theta)

    found = by_differences(length, inputs, np.diag(np.square(sds)))
    assert found.value == pytest.approx(50_000_838.0, abs=0.5)
    assert found.u == pytest.approx(31.66, abs=0.05)


# H.2: five sets of simultaneous observations of voltage, current and phase.
_V = (5.007, 4.994, 5.005, 4.990, 4.999)
_I = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
_PHI = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)
_H2 = {
    "R": (lambda v, i, phi: v / i * math.cos(phi), 127.732, 0.071),
    "X": (lambda v, i, phi: v / i * math.sin(phi), 219.847, 0.295),
    "Z": (lambda v, i, phi: v / i, 254.260, 0.236),
}


@pytest.mark.parametrize("name", _H2)
def test_gum_h2_correlated_inputs(name):
    function, value, u = _H2[name]
    observations = np.array([_V, _I, _PHI])
    found = by_differences(function, observations.mean(axis=1), np.cov(observations) / 5)
    assert found.value == pytest.approx(value, abs=5.1e-4)
    # The example rounds in between (it prints 0.295 where the unrounded chain gives 0.2956).
    assert found.u == pytest.approx(u, abs=7e-4)


@pytest.mark.parametrize(("one", "other", "r"), [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)])
def test_gum_h2_correlations_of_the_results(one, other, r):
    # u^2(a + b) = u^2(a) + u^2(b) + 2 r u(a) u(b), so three propagations show the correlation.
    observations = np.array([_V, _I, _PHI])
    means, covariance = observations.mean(axis=1), np.cov(observations) / 5
    a, b = _H2[one][0], _H2[other][0]
    u_a, u_b = by_differences(a, means, covariance).u, by_differences(b, means, covariance).u
    u_sum = by_differences(lambda *inputs: a(*inputs) + b(*inputs), means, covariance).u
    assert (u_sum**2 - u_a**2 - u_b**2) / (2 * u_a * u_b) == pytest.approx(r, abs=6e-4)


def test_gum_h3_thermometer_calibration_line():
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160])
    J = np.column_stack([np.ones(11), t - 20.0])
    y, unscaled = least_squares_step(J, b, np.zeros(2), np.zeros(2))
    s = math.sqrt(float(np.sum((b - J @ y) ** 2)) / 9)
    covariance = unscaled * s**2  # here the observations' standard deviation is not known beforehand
    assert y == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1]) == pytest.approx(-0.930, abs=5e-4)
    assert s == pytest.approx(0.0035, abs=5e-5)
    at_30 = propagated(covariance, float(y @ [1.0, 10.0]), np.array([1.0, 10.0]))
    assert at_30.value == pytest.approx(-0.1494, abs=5e-5)
    assert at_30.u == pytest.approx(0.0041, abs=5e-5)


def test_jcgm_101_four_normal_inputs():
    found = propagated(np.eye(4), 0.0, np.ones(4))
    assert found.u == pytest.approx(2.00)
    assert pytest.approx(3.92, abs=0.005) == found.U95


def test_jcgm_101_four_rectangular_inputs_are_covered_on_the_safe_side():
    # The published interval is 3.88; the normal one that the program gives is a little wider, never narrower.
    random = np.random.default_rng(101)
    sums = random.uniform(-math.sqrt(3.0), math.sqrt(3.0), (1_000_000, 4)).sum(axis=1)
    assert np.quantile(np.abs(sums), 0.95) == pytest.approx(3.88, abs=0.015)
    assert 3.88 < propagated(np.eye(4), 0.0, np.ones(4)).U95 < 3.88 * 1.02


def test_nist_tn_1900_e13_coefficient_of_expansion():
    def alpha(cold_m, warm_m, cold_k, warm_k):
        return (warm_m - cold_m) / (cold_m * (warm_k - cold_k))

    sds = (0.0001, 0.0002, 0.02, 0.05)
    found = by_differences(alpha, (1.4999, 1.5021, 288.15, 373.10), np.diag(np.square(sds)))
    assert found.value == pytest.approx(1.7266e-5, abs=5e-10)
    assert found.u == pytest.approx(1.76e-6, abs=5e-9)


def test_expansion_of_acrylic_sheet():
    # 300 mm, 5 K above 20 degrees, 70e-6 per kelvin: 0.105 mm, seen by a scale that does not expand.
    rigid = Material(name="rigid", label=said("rigid"), expansion_per_k=0.0, half_width_per_k=0.0)
    warm = expansion_difference("acrylic", 25.0, caliper=rigid)
    read = Estimate(value=300.0 * (1.0 + 5 * 70e-6), u=0.0)
    assert read.value - 300.0 == pytest.approx(0.105)
    assert warm.at_reference(read).value == pytest.approx(300.0, abs=0.003)

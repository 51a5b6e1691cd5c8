"""Gauge study and range constants against published data.

- AIAG, Measurement Systems Analysis: 10 parts x 3 appraisers x 3 trials; figures recalled, they reproduce each other.
- Control chart constants: ASTM E2587 (read in a public copy).
- Repeatability pooled over runs: NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4 (read, recomputed).
"""

import math

import pytest

from core.metrology.gauge_study import analysis_of_variance, average_and_range, d2_star, pooled_variance, range_moments

# Appraiser, then trial, then part.
_TRIALS = {
    "A": (
        (0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36),
        (0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25),
        (0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31),
    ),
    "B": (
        (0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68),
        (0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62),
        (0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50),
    ),
    "C": (
        (0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49),
        (-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77),
        (-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16),
    ),
}
# As the study takes them: appraiser, part, trial.
AIAG = [list(zip(*trials, strict=True)) for trials in _TRIALS.values()]


def test_aiag_average_and_range():
    study = average_and_range(AIAG)
    assert study.repeatability == pytest.approx(0.2019, abs=5e-5)
    assert study.reproducibility == pytest.approx(0.2297, abs=1e-4)
    assert study.gauge == pytest.approx(0.3058, abs=1e-4)
    assert study.parts == pytest.approx(1.1046, abs=5e-4)
    assert study.total == pytest.approx(1.1461, abs=5e-4)
    assert 100 * study.gauge / study.total == pytest.approx(26.68, abs=0.02)
    assert study.distinct_categories == 5


def test_aiag_analysis_of_variance_with_the_interaction_pooled():
    study = analysis_of_variance(AIAG)
    assert study.repeatability == pytest.approx(0.19993, abs=5e-6)
    assert study.reproducibility == pytest.approx(0.22684, abs=5e-6)
    assert study.gauge == pytest.approx(0.30237, abs=5e-6)
    assert study.parts == pytest.approx(1.04233, abs=5e-6)
    assert 100 * study.gauge / study.total == pytest.approx(27.86, abs=0.005)


def test_aiag_factors_are_those_of_few_ranges():
    # K1 three trials, K2 three appraisers, K3 ten parts.
    assert 1 / d2_star(3, 30) == pytest.approx(0.5908, abs=5e-5)
    assert 1 / d2_star(3, 1) == pytest.approx(0.5231, abs=5e-5)
    assert 1 / d2_star(10, 1) == pytest.approx(0.3146, abs=5e-5)


@pytest.mark.parametrize(
    ("n", "d2", "A2", "D3", "D4"),
    [
        (2, 1.128, 1.880, 0, 3.267),
        (3, 1.693, 1.023, 0, 2.575),
        (4, 2.059, 0.729, 0, 2.282),
        (5, 2.326, 0.577, 0, 2.114),
        (10, 3.078, 0.308, 0.223, 1.777),
    ],
)
def test_control_chart_constants(n, d2, A2, D3, D4):
    mean, sd = range_moments(n)
    assert mean == pytest.approx(d2, abs=5e-4)
    assert 3 / (mean * math.sqrt(n)) == pytest.approx(A2, abs=6e-4)
    assert max(1 - 3 * sd / mean, 0) == pytest.approx(D3, abs=6e-4)
    assert 1 + 3 * sd / mean == pytest.approx(D4, abs=1.1e-3)


def test_nist_repeatability_pooled_over_runs():
    squares = (0.48115, 0.69209, 0.48483, 1.21752, 0.30076)
    assert math.sqrt(pooled_variance(squares, (60,) * 5)) == pytest.approx(0.10290, abs=5e-6)

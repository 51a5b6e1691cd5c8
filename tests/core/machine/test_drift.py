"""Drift on simulated histories; the chart itself against published values."""

from __future__ import annotations

import numpy as np
import pytest

from core.machine.drift import HistoryPoint, drift_of, ewma, ewma_limits, weighted_line
from core.metrology.adjustment import Estimate

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: EWMA with weight 0.3, target 50, s 2.0539 (figures recalled,
# they reproduce one another).
NIST = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_the_handbook_chart() -> None:
    averages = ewma(NIST, 50.0, 0.3)
    assert [round(average, 2) for average in averages[:3]] == [50.60, 49.52, 50.56]
    assert [round(average, 2) for average in averages[-2:]] == [51.94, 51.99]
    lower, upper = ewma_limits(50.0, [2.0539] * 60, 0.3)[-1]
    assert upper == pytest.approx(52.5884, abs=1e-4)
    assert lower == pytest.approx(47.4116, abs=1e-4)


def test_the_weighted_line_of_the_standard() -> None:
    # ISO/TS 28037:2010, example pp. 13-14
    line, C, chi_square = weighted_line(
        np.arange(1.0, 7.0), np.array([3.2, 4.3, 7.6, 8.6, 11.7, 12.8]), np.array([0.5, 0.5, 0.5, 1.0, 1.0, 1.0])
    )
    assert line == pytest.approx([0.88523, 2.05696], abs=1e-5)
    assert np.sqrt(np.diag(C)) == pytest.approx([0.5297081, 0.1778920], abs=1e-6)
    assert C[0, 1] == pytest.approx(-0.08227848, abs=1e-7)
    assert chi_square == pytest.approx(4.1308, abs=1e-4)


def history(slope: float, count: int, seed: int, u: float = 0.02, scatter: float = 0.0) -> list[HistoryPoint]:
    rng = np.random.default_rng(seed)
    sd = np.hypot(u, scatter)
    return [
        HistoryPoint(at=7.0 * week, value=Estimate(value=0.02 + slope * 7.0 * week + sd * rng.standard_normal(), u=u))
        for week in range(count)
    ]


def test_a_drifting_machine_is_told_when_it_leaves() -> None:
    drift = drift_of(history(0.002, 12, seed=4), limit=0.25)
    assert drift.proven
    assert drift.slope is not None
    assert drift.slope.value == pytest.approx(0.002, abs=drift.slope.U95)
    assert drift.leaves_at is not None
    # 0.02 + 0.002 t = 0.25 at t = 115 days
    assert drift.leaves_at == pytest.approx(115.0, abs=15.0)
    assert drift.check_at is not None
    assert 77.0 <= drift.check_at < drift.leaves_at
    assert "It drifts by +0.00" in str(drift.text)
    assert "standard uncertainties" in str(drift.text)
    assert drift.chart[-1].outside
    assert "no longer what it was" in str(drift.text)


def test_it_heads_for_the_limit_on_the_side_it_drifts_to() -> None:
    points = [HistoryPoint(at=float(t), value=Estimate(value=0.10 - 0.01 * t, u=0.005)) for t in range(11)]
    drift = drift_of(points, limit=0.08)
    # Now 0.0 and falling by 0.01 a day: the limit at -0.08 is reached in 8 days.
    assert drift.leaves_at == pytest.approx(18.0)
    # Beyond the limit already: it has left.
    assert drift_of(points, limit=-0.0 + 1e-6).leaves_at == pytest.approx(10.0, abs=0.01)


def test_no_time_is_named_without_evidence() -> None:
    drift = drift_of(history(0.0, 12, seed=5), limit=0.3)
    assert not drift.proven
    assert drift.leaves_at is None
    assert "No drift is proven" in str(drift.text)
    slow = drift_of(history(0.0005, 30, seed=6), limit=3.0)
    assert slow.proven
    assert slow.leaves_at is None  # it lies farther off than the machine has been watched
    assert slow.check_at == pytest.approx(29 * 7.0 * 2)


def test_false_alarms_are_as_rare_as_they_are_said_to_be() -> None:
    proven = [drift_of(history(0.0, 10, seed=seed), limit=0.3).proven for seed in range(1000)]
    assert np.mean(proven) < 0.06
    # Machines that cut worse than they are measured do not turn into drifting ones.
    scattered = [drift_of(history(0.0, 10, seed=seed, scatter=0.06), limit=0.3).proven for seed in range(1000)]
    assert np.mean(scattered) < 0.12


def test_few_coupons_say_so() -> None:
    assert str(drift_of([], limit=0.3).text) == "No coupon yet: cut one."
    few = drift_of(history(0.01, 3, seed=1), limit=0.3)
    assert few.slope is None
    assert "3 of 4 coupons" in str(few.text)
    assert len(few.chart) == 3
    same = [HistoryPoint(at=5.0, value=Estimate(value=0.1, u=0.02))] * 5
    assert "at the same time" in str(drift_of(same, limit=0.3).text)


def test_without_a_limit_drift_is_told_and_no_day_is_named() -> None:
    drift = drift_of(history(0.002, 12, seed=4), limit=None, per_cent=True)
    assert drift.proven
    assert "% per day" in str(drift.text)
    assert (drift.leaves_at, drift.check_at) == (None, None)

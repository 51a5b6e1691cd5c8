"""Conformance probability and guard factor against JCGM 106:2012 and ISO 14253-1:2017.

The figures of JCGM 106 were recalled and reproduce each other; the default of ISO 14253-1 is from memory.
"""

from statistics import NormalDist

import pytest

from core.metrology.verdict import GUARD_FACTOR, REQUIRED_PROBABILITY, Verdict, conformance_probability, judge


@pytest.mark.parametrize(
    ("value", "u", "lower", "upper", "expected"),
    [
        (-5.47, 0.05, None, -5.40, 0.92),  # a single upper limit
        (509.7, 8.6, 490.0, None, 0.99),  # a single lower limit
        (13.6, 1.8, 12.5, 16.3, 0.66),  # both limits
    ],
)
def test_jcgm_106_worked_examples(value, u, lower, upper, expected):
    assert conformance_probability(value, u, lower, upper) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("probability", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_jcgm_106_table_1(probability, z):
    assert conformance_probability(0.0, 1.0, None, z) == pytest.approx(probability, abs=0.003)
    assert NormalDist().inv_cdf(probability) == pytest.approx(z, abs=0.005)


def test_iso_14253_1_default_guard():
    assert REQUIRED_PROBABILITY == 0.95
    assert pytest.approx(1.645, abs=0.0005) == GUARD_FACTOR


def test_iso_14253_1_a_value_inside_the_guard_band_is_not_rejected():
    assert judge(1.0 + 1.64 * 0.1, 0.1, -1.0, 1.0) is Verdict.UNDECIDED
    assert judge(1.0 + 1.65 * 0.1, 0.1, -1.0, 1.0) is Verdict.NO_GO

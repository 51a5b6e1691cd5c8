"""The check before measuring: today's zero, and an instrument that must not be trusted."""

import math

import numpy as np
import pytest

from core.errors import BadInputError
from core.metrology.accuracy import DEFAULT_CALIPER, DEFAULT_GAUGE
from core.metrology.gauge_check import Block, CheckedLength, block_side, check_caliper, check_gauge


def lengths(*pairs):
    return [CheckedLength(nominal_mm=nominal, readings_mm=tuple(readings)) for nominal, readings in pairs]


def test_closed_jaws_and_the_prior_are_weighted():
    check = check_caliper(DEFAULT_CALIPER, lengths((0.0, [0.01] * 4)))
    variance = (0.02**2 + 0.01**2 / 12) / 4
    expected = 0.01 * (1 / variance) / (1 / variance + 1 / 0.01**2)
    assert check.passed
    assert check.zero.value == pytest.approx(expected)
    assert check.zero.u == pytest.approx(math.sqrt(1 / (1 / variance + 1 / 0.01**2)))


def test_a_check_never_knows_less_than_before():
    for readings in ([0.0], [0.01, 0.0], [0.0] * 10):
        assert check_caliper(DEFAULT_CALIPER, lengths((0.0, readings))).zero.u < DEFAULT_CALIPER.zero_sd


def test_blocks_add_to_what_the_jaws_say():
    jaws = check_caliper(DEFAULT_CALIPER, lengths((0.0, [0.01, 0.01])))
    both = check_caliper(DEFAULT_CALIPER, lengths((0.0, [0.01, 0.01]), (50.8, [50.81, 50.81])))
    assert both.passed
    assert both.zero.u < jaws.zero.u


@pytest.mark.parametrize("found", [[(0.0, [0.08])], [(0.0, [0.12] * 3), (25.4, [25.52] * 3)], [(50.8, [50.60])]])
def test_a_caliper_that_was_not_zeroed_is_told_to_be(found):
    check = check_caliper(DEFAULT_CALIPER, lengths(*found))
    assert not check.passed
    assert "press zero" in str(check.text)


def test_a_scale_error_beyond_the_promise_is_found_where_it_is():
    check = check_caliper(DEFAULT_CALIPER, lengths((0.0, [0.0] * 3), (76.2, [76.35] * 3)))
    assert not check.passed
    assert "at 76.2 mm" in str(check.text)


def test_the_wrong_system_of_blocks_is_named():
    check = check_caliper(DEFAULT_CALIPER, lengths((0.0, [0.0]), (25.0, [25.41])))
    assert not check.passed
    assert "inch block (25.4 mm)" in str(check.text)


@pytest.mark.parametrize(
    ("reading_mm", "expected"),
    [(25.38, (Block.INCH, 25.4)), (25.02, (Block.METRIC, 25.0)), (76.2, (Block.INCH, 76.2)), (60.0, None)],
)
def test_a_reading_says_which_block_it_is(reading_mm, expected):
    assert block_side(reading_mm) == expected


def test_reversal_separates_the_gauge_from_the_square():
    # Gauge 0.3 degrees high, square 0.1 degrees open: 90.4 on one side, 90.2 on the other.
    check = check_gauge(DEFAULT_GAUGE, [90.4] * 5, [90.2] * 5)
    assert check.passed
    assert check.square_error.value == pytest.approx(0.1)
    assert 0.2 < check.zero.value < 0.3
    assert check.zero.u < DEFAULT_GAUGE.zero_sd / 2


def test_a_gauge_far_off_is_told_to_be_set():
    check = check_gauge(DEFAULT_GAUGE, [91.5], [91.5])
    assert not check.passed
    assert "set it to zero" in str(check.text)


def test_the_found_zero_goes_into_the_accuracy():
    check = check_gauge(DEFAULT_GAUGE, [90.2] * 3, [90.2] * 3)
    accuracy = check.applied_to(DEFAULT_GAUGE)
    assert (accuracy.zero, accuracy.zero_sd) == (check.zero.value, check.zero.u)
    assert accuracy.repeatability == DEFAULT_GAUGE.repeatability


def test_the_intervals_of_the_zero_are_true():
    # 2,000 simulated checks: the zero drawn from the prior, the jaws read three times.
    random = np.random.default_rng(20260302)
    inside = 0
    trials = 2000
    for true_mm in random.normal(0.0, DEFAULT_CALIPER.zero_sd, trials):
        readings = true_mm + random.normal(0.0, math.hypot(0.02, 0.01 / math.sqrt(12)), 3)
        zero = check_caliper(DEFAULT_CALIPER, lengths((0.0, readings.tolist()))).zero
        inside += abs(zero.value - true_mm) <= zero.U95
    assert abs(inside / trials - 0.95) < 3 * math.sqrt(0.95 * 0.05 / trials)


def test_impossible_checks_are_refused():
    with pytest.raises(BadInputError, match="close the jaws"):
        check_caliper(DEFAULT_CALIPER, [])
    with pytest.raises(BadInputError, match="at least one reading"):
        CheckedLength(nominal_mm=0.0, readings_mm=())
    with pytest.raises(BadInputError, match="turned over"):
        check_gauge(DEFAULT_GAUGE, [90.0], [])
    with pytest.raises(BadInputError, match="no readings of a square"):
        check_gauge(DEFAULT_GAUGE, [45.0], [45.0])

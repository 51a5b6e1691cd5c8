"""The guarded decision: where go ends, where no-go begins, and what lies between."""

import math

import pytest
from hypothesis import given, strategies as st

from core.metrology.distributions import student_cdf
from core.metrology.verdict import Verdict, combine, conformance_probability, judge

GO, NO_GO, UNDECIDED, INCONSISTENT = Verdict.GO, Verdict.NO_GO, Verdict.UNDECIDED, Verdict.INCONSISTENT


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.0, GO),
        (0.4 - 0.1 * 1.65, GO),
        (0.4 - 0.1 * 1.64, UNDECIDED),
        (0.4, UNDECIDED),
        (0.4 + 0.1 * 1.64, UNDECIDED),
        (0.4 + 0.1 * 1.65, NO_GO),
        (-0.4 + 0.1 * 1.65, GO),
        (-0.4 - 0.1 * 1.65, NO_GO),
    ],
)
def test_the_strip_on_both_sides_of_a_limit_is_given_up_to_uncertainty(value, expected):
    assert judge(value, 0.1, -0.4, 0.4) is expected


@pytest.mark.parametrize("value", [0.0, 0.3, 10.0, -10.0])
def test_nothing_is_settled_while_u_is_above_half_the_tolerance(value):
    assert judge(value, 0.2001, -0.4, 0.4) is UNDECIDED


def test_a_wide_uncertainty_eats_into_both_limits_at_once():
    # u = T/2: each limit is 2 u away, so 4.6 % lie outside in all, and 95.45 % inside: just a go.
    assert judge(0.0, 0.2, -0.4, 0.4) is GO
    # A little off the middle the farther tail still counts.
    assert judge(0.06, 0.2, -0.4, 0.4) is UNDECIDED


@given(value=st.floats(-2, 2), u=st.floats(1e-6, 1.0), tolerance=st.floats(0.01, 1.0))
def test_the_verdict_does_not_know_left_from_right(value, u, tolerance):
    assert judge(value, u, -tolerance, tolerance) is judge(-value, u, -tolerance, tolerance)


@given(value=st.floats(-2, 2), u=st.floats(0, 1.0), tolerance=st.floats(0.01, 1.0))
def test_a_conformance_probability_is_a_probability(value, u, tolerance):
    assert 0.0 <= conformance_probability(value, u, -tolerance, tolerance) <= 1.0


@pytest.mark.parametrize("nu", [1.0, 2.5, 3.0, 20.0, 400.0, math.inf])
def test_a_word_is_what_the_probability_says_however_soon_it_is_found(nu):
    """Go from 95 % inside on; no-go from 95 % beyond one limit on."""
    said = set()
    for u in (0.01, 0.05, 0.1, 0.15, 0.2):
        for value in (0.0037 * step for step in range(400)):
            expected = GO if conformance_probability(value, u, -0.4, 0.4, nu) >= 0.95 else UNDECIDED
            if student_cdf((value - 0.4) / u, nu) > 0.95:
                expected = NO_GO
            assert judge(value, u, -0.4, 0.4, nu) is expected
            said.add(expected)
    assert said == {GO, NO_GO, UNDECIDED}


def test_without_uncertainty_the_limit_itself_still_conforms():
    assert conformance_probability(0.4, 0.0, -0.4, 0.4) == 1.0
    assert conformance_probability(0.41, 0.0, -0.4, 0.4) == 0.0


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        ([GO, GO], GO),
        ([GO, UNDECIDED], UNDECIDED),
        ([GO, NO_GO, UNDECIDED], NO_GO),
        ([NO_GO, INCONSISTENT], INCONSISTENT),
        ([], UNDECIDED),
    ],
)
def test_the_worst_that_is_certain_speaks_for_the_coupon(verdicts, expected):
    assert combine(verdicts) is expected

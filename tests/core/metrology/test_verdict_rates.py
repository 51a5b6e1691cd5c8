"""Wrong verdicts of `evaluate` itself, squareness and size: small and seeded; the table is in tests/benchmarks.

Worlds that share no formula with core judge the same in tests/endurance.
"""

import math

import pytest

from core.metrology.verdict import Verdict
from tests.core.metrology.verdict_rates import after_all_ten, at_early_finish, at_the_limit


@pytest.mark.parametrize("linearity", ["normal", "uniform"])
def test_wrong_verdicts_after_all_ten_stay_under_one_per_cent(linearity):
    for tally in after_all_ten(400, 11, linearity):
        assert tally.go_on_bad / tally.coupons < 0.01
        assert tally.no_go_on_good / tally.coupons < 0.01
        # A rule that never decides would never be wrong.
        assert tally.go + tally.no_go > 0.5 * tally.coupons


@pytest.mark.parametrize("order", ["as asked", "random"])
def test_wrong_verdicts_at_early_finish_stay_at_what_chance_makes_of_one_per_cent(order):
    coupons = 100
    tally = at_early_finish(coupons, 12, order)
    chance = 3.0 * math.sqrt(0.01 * 0.99 / coupons)
    assert tally.go_on_bad / coupons < 0.01 + chance
    assert tally.no_go_on_good / coupons < 0.01 + chance
    assert tally.go + tally.no_go > 0.6 * coupons


@pytest.mark.parametrize("name", ["squareness", "edge-near"])
def test_at_the_limit_itself_each_verdict_is_wrong_about_one_time_in_twenty(name):
    coupons = 800
    shares = at_the_limit(coupons, 13, name, "uniform")
    # 5 % by construction; three standard deviations of a share of 800 are allowed for chance.
    chance = 3.0 * math.sqrt(0.05 * 0.95 / coupons)
    assert shares[Verdict.GO] <= 0.05 + chance
    assert shares[Verdict.NO_GO] <= 0.05 + chance
    assert shares[Verdict.INCONSISTENT] <= 0.01

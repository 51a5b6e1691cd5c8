"""Repeatability learned from repeats, and what repeats say of one another."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from core.geometry.features import Feature
from core.metrology.accuracy import EarlierHand, MeasuringSetup
from core.metrology.hands import learn
from core.metrology.readings import Method, Quantity, Reading
from tests.core.metrology.simulated_readings import reading

SETUP = MeasuringSetup()
SET = 0.02**2 + 0.01**2 / 12.0


def read(*values: float, feature: Feature = Feature.NEAR) -> list[Reading]:
    return [reading(feature, value) for value in values]


def test_what_is_set_holds_until_something_is_repeated() -> None:
    hand = learn(read(120.0), SETUP).hands[0]
    assert (hand.variance, hand.nu) == (pytest.approx(SET), 6.0)


def test_repeats_are_weighed_against_six_of_what_is_set() -> None:
    hand = learn(read(120.0, 120.04), SETUP).hands[0]
    assert hand.nu == 7.0
    assert hand.variance == pytest.approx((6.0 * SET + 0.0008) / 7.0)


def test_a_hand_that_is_clearly_another_is_believed() -> None:
    hand = learn(read(120.0, 120.1) + read(80.0, 80.1, feature=Feature.LEFT), SETUP).hands[0]
    assert stats.chi2.ppf(0.95, 2) < 0.01 / SET
    assert hand.nu == 3.0
    assert hand.variance == pytest.approx((SET + 0.01) / 3.0)


def test_it_is_never_finer_than_the_display() -> None:
    coarse = replace(SETUP, gauge=replace(SETUP.gauge, resolution=0.5, repeatability=0.0))
    hand = learn([reading(Feature.NL, 90.0)] * 12, coarse).hands[0]
    assert hand.variance == pytest.approx(0.5**2 / 12.0)
    assert hand.mean_variance(12) == pytest.approx(0.5**2 / 12.0)


def test_cable_and_typed_readings_and_two_calipers_are_hands_of_their_own() -> None:
    typed = [Reading(feature=Feature.NEAR, value=120.0, method=Method.TYPED)] * 2
    other = [Reading(feature=Feature.NEAR, value=120.0, instrument="tape")]
    learned = learn([*read(120.0, 120.02), *typed, *other], SETUP)
    assert [(hand.key.method, hand.key.instrument) for hand in learned.hands] == [
        (Method.CABLE, ""),
        (Method.TYPED, ""),
        (Method.CABLE, "tape"),
    ]
    assert [hand.repeats for hand in learned.hands] == [1, 1, 0]


def test_earlier_coupons_count_and_are_passed_on_with_a_bounded_memory() -> None:
    earlier = EarlierHand(quantity=Quantity.LENGTH, method=Method.CABLE, instrument="", variance=0.0009, nu=29.0)
    hand = learn(read(120.0, 120.02, 120.05), replace(SETUP, hands=(earlier,))).hands[0]
    assert hand.nu == 1.0 + 29.0 + 2.0
    passed_on = hand.as_earlier()
    assert passed_on is not None
    assert passed_on.nu == 30.0
    assert passed_on.variance == pytest.approx((29.0 * 0.0009 + hand.scatter) / 31.0)
    assert learn(read(120.0), SETUP).hands[0].as_earlier() is None


@pytest.mark.parametrize(("apart_mm", "disagrees"), [(0.10, False), (0.13, False), (0.16, True), (1.0, True)])
def test_two_readings_disagree_beyond_about_fourteen_hundredths(apart_mm: float, disagrees: bool) -> None:
    """F(0.999; 1, 6) is t(0.9995; 6) squared: 5.96 times sqrt(2) x 0.0202 mm are 0.170 with nothing else repeated."""
    others = [r for f in (Feature.LEFT, Feature.FAR) for r in read(80.0, 80.02, 80.04, feature=f)]
    learned = learn([*read(120.0, 120.0 + apart_mm), *others], SETUP)
    assert (Feature.NEAR in learned.disagreeing) is disagrees


def test_the_f_test_is_that_of_scipy() -> None:
    for apart_mm in np.linspace(0.1, 0.25, 31):
        learned = learn(read(120.0, 120.0 + apart_mm), SETUP)
        ratio = apart_mm**2 / 2.0 / SET
        assert bool(learned.disagreeing) is bool(ratio > stats.f.ppf(0.999, 1, 6))


def test_from_the_third_on_the_one_that_sticks_out_is_offered_for_voiding() -> None:
    found = learn(read(120.0, 121.0, 120.02), SETUP).features[0]
    assert (found.disagrees, found.outlier) == (True, 121.0)


def test_four_that_scatter_without_one_sticking_out_are_the_hand_and_nothing_is_asked() -> None:
    scattered = read(119.8, 120.2, 119.9, 120.1)
    found = learn(scattered, SETUP).features[0]
    assert (found.disagrees, found.outlier) == (False, None)
    assert found.own_variance == pytest.approx(np.var([r.value for r in scattered], ddof=1))


def test_readings_of_one_feature_by_two_hands_are_held_against_one_another() -> None:
    typed = Reading(feature=Feature.NEAR, value=121.0, method=Method.TYPED)
    assert learn([*read(120.0), typed], SETUP).disagreeing == (Feature.NEAR,)


def test_a_hand_three_times_rougher_is_one_and_ten_times_rougher_is_something_loose() -> None:
    pattern = np.array([-1.0, -0.4, 0.1, 0.3, 0.9])
    rough, loose = (
        learn([reading(Feature.NL_FR, 144.22 + times * 0.02 * off) for off in pattern], SETUP).features[0]
        for times in (3.0, 20.0)
    )
    assert not rough.disagrees
    assert loose.disagrees
    assert loose.own_variance is None

"""Which reading is asked for next, and that the asking ends."""

import math
from collections.abc import Collection

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from core.metrology.accuracy import CouponForm, EarlierHand, MeasuringSetup
from core.metrology.characteristics import measurands
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.findings import NextReason
from core.metrology.forecast import Forecast, squareness_of
from core.metrology.groups import guard, unseen_shifts
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import Method, Quantity, Reading
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import CharacteristicGroup, Verdict
from tests.core.metrology.known_coupons import exact_readings, shape
from tests.core.metrology.simulated_readings import HOUSE_COUPON, noisy, random_truth, reading

SETUP = MeasuringSetup()
SQUARENESS = CharacteristicGroup.SQUARENESS
LIMITS = limits_for_class(HOUSE_COUPON, "mK")
LENGTHS = DIAGONALS + EDGES
SEATED = replace(HOUSE_COUPON, seats=keyed_seats(HOUSE_COUPON.width_mm, HOUSE_COUPON.height_mm))


class Walk:
    """Measures a simulated coupon in the order asked for, and keeps what was asked."""

    def __init__(self, seed: int, skew_deg: float | None = None, among: Collection[Feature] = TEN_FEATURES) -> None:
        rng = np.random.default_rng(seed)
        truth = random_truth(rng, SETUP)
        if skew_deg is not None:
            truth[2] = np.tan(np.radians(skew_deg)) * (1.0 + truth[1])
        values, _ = predicted_readings(HOUSE_COUPON, truth, SETUP)
        self.shown = {
            feature: iter(noisy(rng, value, feature, SETUP, 10))
            for feature, value in zip(TEN_FEATURES, values, strict=True)
        }
        self.among = among
        self.readings: list[Reading] = []
        self.asked: list[tuple[Feature, NextReason]] = []
        self.evaluation = self._evaluate()

    def _evaluate(self) -> Evaluation:
        return evaluate(HOUSE_COUPON, self.readings, LIMITS, SETUP, among=self.among)

    def take(self, feature: Feature, error: float = 0.0) -> Evaluation:
        self.readings.append(reading(feature, next(self.shown[feature]) + error))
        self.evaluation = self._evaluate()
        return self.evaluation

    def to_the_end(self) -> Evaluation:
        while self.evaluation.next_reading is not None:
            request = self.evaluation.next_reading
            self.asked.append((request.feature, request.reason))
            self.take(request.feature)
        return self.evaluation


def test_a_bare_coupon_starts_with_the_pair_of_diagonals() -> None:
    walk = Walk(seed=1)
    for feature in DIAGONALS:
        request = walk.evaluation.next_reading
        assert request is not None
        assert (request.feature, request.reason) == (feature, NextReason.FIRST)
        walk.take(feature)


@pytest.mark.parametrize("seed", range(8))
def test_the_asking_ends_after_twelve_readings_or_before(seed: int) -> None:
    walk = Walk(seed)
    walk.to_the_end()
    # A witness by corners may be asked for on top: both of an opposite pair, all four, or these once more.
    assert len([f for f, _ in walk.asked if f not in CORNERS]) <= 12
    assert len(walk.readings) <= 20


def test_lengths_are_asked_for_twice_where_a_misreading_could_pass_unseen() -> None:
    walk = Walk(seed=0, skew_deg=0.02)
    final = walk.to_the_end()
    assert final.verdict is Verdict.GO
    assert final.settled
    assert sorted(f for f, _ in walk.asked) == sorted((DIAGONALS + EDGES) * 2)


def test_without_an_angle_gauge_no_corner_is_asked_for() -> None:
    walk = Walk(seed=2, among=LENGTHS)
    walk.to_the_end()
    assert not {feature for feature, _ in walk.asked} & set(CORNERS)


def test_with_nothing_at_hand_nothing_is_asked() -> None:
    assert Walk(seed=3, among=()).evaluation.next_reading is None


def test_a_misread_feature_is_asked_for_again_before_anything_else() -> None:
    walk = Walk(seed=4)
    for feature in TEN_FEATURES:
        walk.take(feature, error=4.0 if feature is Feature.FR else 0.0)
    assert walk.evaluation.verdict is Verdict.INCONSISTENT
    request = walk.evaluation.next_reading
    assert request is not None
    assert (request.feature, request.reason) == (Feature.FR, NextReason.SUSPECT)


def test_repeats_that_disagree_are_suspect_even_where_the_rest_is_consistent() -> None:
    walk = Walk(seed=5)
    for feature in (*DIAGONALS, *EDGES, *DIAGONALS, Feature.NEAR):
        walk.take(feature)
    walk.take(Feature.LEFT, error=0.3)
    assert walk.evaluation.adjustment.consistent
    request = walk.evaluation.next_reading
    assert request is not None
    assert (request.feature, request.reason) == (Feature.LEFT, NextReason.SUSPECT)


def next_features(readings: list[Reading], tolerance_class: str) -> list[Feature]:
    """What is asked for, one after another, when every reading shows its nominal value, until settled."""
    limits, asked = limits_for_class(HOUSE_COUPON, tolerance_class), []
    evaluation = evaluate(HOUSE_COUPON, readings, limits, SETUP)
    while not evaluation.settled and evaluation.next_reading is not None:
        asked.append(evaluation.next_reading.feature)
        readings = [*readings, reading(asked[-1], HOUSE_COUPON.nominal(asked[-1]))]
        evaluation = evaluate(HOUSE_COUPON, readings, limits, SETUP)
    return asked


def test_a_coupon_is_settled_by_both_diagonals_twice() -> None:
    assert next_features([], "mK") == [*DIAGONALS, *DIAGONALS]
    assert next_features([], "mH") == [*DIAGONALS, *DIAGONALS]


def test_the_order_begun_otherwise_is_finished_from_where_it_is() -> None:
    begun = [reading(corner, 90.0) for corner in CORNERS[:3]]
    assert next_features(begun, "mK")[:4] == [*DIAGONALS, *DIAGONALS]


def test_the_quick_check_asks_for_both_diagonals_twice_and_nothing_more() -> None:
    readings: list[Reading] = []
    for feature in DIAGONALS + DIAGONALS:
        evaluation = evaluate(HOUSE_COUPON, readings, LIMITS, SETUP, groups=[SQUARENESS])
        assert evaluation.next_reading is not None
        assert evaluation.next_reading.feature is feature
        assert not evaluation.settled
        readings.append(reading(feature, HOUSE_COUPON.diagonal_mm))
    final = evaluate(HOUSE_COUPON, readings, LIMITS, SETUP, groups=[SQUARENESS])
    assert final.settled
    assert final.next_reading is None


def racked(coupon: Coupon, skew_deg: float, features: tuple[Feature, ...]) -> list[Reading]:
    return exact_readings(shape(skew_deg=skew_deg), features, coupon)


def test_a_move_of_a_coupon_without_a_key_asks_for_the_opposite_pair_of_corners_first() -> None:
    readings = racked(HOUSE_COUPON, 0.6, DIAGONALS * 2)
    for corner in (Feature.NL, Feature.FR):
        evaluation = evaluate(HOUSE_COUPON, readings, LIMITS, SETUP)
        assert evaluation.next_reading is not None
        assert evaluation.next_reading.feature is corner
        readings += racked(HOUSE_COUPON, 0.6, (corner,))


def test_keyed_seats_need_no_other_witness() -> None:
    seated = replace(HOUSE_COUPON, seats=keyed_seats(120.0, 80.0))
    evaluation = evaluate(seated, racked(seated, 0.6, DIAGONALS * 2), LIMITS, SETUP, groups=[SQUARENESS])
    assert evaluation.settled
    assert evaluation.next_reading is None


def near_the_limit(share: float, coupon: Coupon, among: Collection[Feature] = TEN_FEATURES) -> Evaluation:
    """A coupon that lies at this share of its limit, both diagonals read twice."""
    limits = limits_for_class(coupon, "mK")
    assert limits.perpendicularity_mm is not None
    skew_deg = math.degrees(math.atan(share * limits.perpendicularity_mm / coupon.shorter_side_mm))
    readings = exact_readings(shape(skew_deg=skew_deg), DIAGONALS * 2, coupon)
    return evaluate(coupon, readings, limits, SETUP, groups=[SQUARENESS], among=among)


def test_where_eight_more_readings_would_hardly_bring_a_word_none_is_asked_for() -> None:
    at_limit = near_the_limit(1.0, SEATED)
    assert (at_limit.verdict, at_limit.settled, at_limit.next_reading) == (Verdict.UNDECIDED, False, None)
    assert at_limit.too_close


def test_where_more_readings_may_bring_a_word_they_are_asked_for() -> None:
    """0.04 mm within the limit: at four readings the guard takes 0.05, after twelve it takes less."""
    open_yet = near_the_limit(0.9, SEATED)
    assert not open_yet.settled
    assert open_yet.next_reading is not None
    assert not open_yet.too_close


def test_corners_narrow_a_skew_that_burning_blurs_and_diagonals_do_not() -> None:
    hot = MeasuringSetup(form=CouponForm(diagonal_mm=0.10))
    readings = exact_readings(shape(skew_deg=0.2), DIAGONALS * 2)
    with_gauge = evaluate(HOUSE_COUPON, readings, LIMITS, hot, groups=[SQUARENESS])
    assert with_gauge.next_reading is not None
    assert with_gauge.next_reading.feature in CORNERS
    without = evaluate(HOUSE_COUPON, readings, LIMITS, hot, groups=[SQUARENESS], among=LENGTHS)
    assert without.next_reading is None
    assert without.too_close


@pytest.mark.parametrize("plan", [(), DIAGONALS * 2, (*DIAGONALS, Feature.LEFT, Feature.LEFT, *CORNERS), CORNERS * 2])
def test_a_forecast_is_what_the_judgement_after_these_readings_says(plan: tuple[Feature, ...]) -> None:
    known = [
        EarlierHand(quantity=quantity, method=Method.CABLE, instrument="", variance=variance, nu=30.0)
        for quantity, variance in ((Quantity.LENGTH, 0.02**2), (Quantity.ANGLE, 0.1**2))
    ]
    setup, truth = MeasuringSetup(hands=tuple(known)), shape(skew_deg=0.2)
    begun = exact_readings(truth, DIAGONALS * 2, SEATED)
    before = evaluate(SEATED, begun, LIMITS, setup, groups=[SQUARENESS])
    after = evaluate(SEATED, begun + exact_readings(truth, plan, SEATED), LIMITS, setup, groups=[SQUARENESS])
    squareness, found = squareness_of(before), squareness_of(after)
    assert squareness is not None
    assert found is not None
    of_skew = [one for one in measurands(after.adjustment, LIMITS) if one.group is SQUARENESS]
    unseen = max(map(max, unseen_shifts(after.adjustment, of_skew)))
    needed = max(guard(SEATED, found.u, found.nu), unseen)
    # Exact repeats teach a hand that is a little steadier than the forecast may count on.
    assert Forecast(before, setup, squareness).needed(plan) == pytest.approx(needed, rel=0.1)

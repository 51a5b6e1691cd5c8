"""What must be true of every adjustment, whatever the coupon and the readings (hypothesis).

Turning the coupon over mirrors the result exactly, rotating the naming rotates it, more readings never widen anything
at a fixed linearisation, units never matter, and every one of the 1,023 sets of features converges or says that the
readings contradict each other.
"""

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.least_squares import least_squares_step
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import MM_PER_INCH, Indication, Reading, Unit
from tests.core.metrology.adjust_many import adjust_many
from tests.core.metrology.simulated_readings import (
    HOUSE_COUPON,
    SHAPE_SD,
    random_truth,
    random_truths,
    reading,
    shown_of,
    simulate,
)
from tests.examples import some_of_all

SETUP = MeasuringSetup()
NEAR, RIGHT, FAR, LEFT = EDGES
NL, NR, FR, FL = CORNERS
NL_FR, NR_FL = DIAGONALS
# Turned over about the Y axis, left and right change places; about the X axis, near and far.
TURNED_ABOUT_Y = {LEFT: RIGHT, RIGHT: LEFT, NL_FR: NR_FL, NR_FL: NL_FR, NL: NR, NR: NL, FR: FL, FL: FR}
TURNED_ABOUT_X = {NEAR: FAR, FAR: NEAR, NL_FR: NR_FL, NR_FL: NL_FR, NL: FL, FL: NL, FR: NR, NR: FR}
HALF_TURN = {NEAR: FAR, FAR: NEAR, LEFT: RIGHT, RIGHT: LEFT, NL: FR, FR: NL, NR: FL, FL: NR}
QUARTER_TURN = {
    NEAR: RIGHT,
    RIGHT: FAR,
    FAR: LEFT,
    LEFT: NEAR,
    NL_FR: NR_FL,
    NR_FL: NL_FR,
    NL: NR,
    NR: FR,
    FR: FL,
    FL: NL,
}

seeds = st.integers(0, 2**32 - 1)
subsets = st.sets(st.sampled_from(TEN_FEATURES), min_size=1)
coupons = st.builds(Coupon, width_mm=st.floats(40.0, 1200.0), height_mm=st.floats(40.0, 1200.0))
setups = st.sampled_from([SETUP, MeasuringSetup(edge_method=EdgeMethod.TIPS)])
some = some_of_all(40)


def readings_of(seed: int, coupon: Coupon, setup: MeasuringSetup, features: set[Feature]) -> list[Reading]:
    rng = np.random.default_rng(seed)
    return simulate(
        rng,
        random_truth(rng, setup),
        coupon=coupon,
        setup=setup,
        features=[feature for feature in TEN_FEATURES if feature in features],
        repeats=int(rng.integers(1, 3)),
    )


def renamed(readings: list[Reading], names: dict[Feature, Feature]) -> list[Reading]:
    return [reading(names.get(r.feature, r.feature), r.value) for r in readings]


@some
@given(seeds, coupons, setups, subsets)
def test_turning_the_coupon_over_mirrors_the_result(
    seed: int, coupon: Coupon, setup: MeasuringSetup, features: set[Feature]
) -> None:
    readings = readings_of(seed, coupon, setup, features)
    plain = adjust(coupon, readings, setup)
    for names, signs in (
        (TURNED_ABOUT_Y, [1, 1, -1, 1, -1, 1, 1, 1]),
        (TURNED_ABOUT_X, [1, 1, -1, -1, 1, 1, 1, 1]),
        (HALF_TURN, [1, 1, 1, -1, -1, 1, 1, 1]),
    ):
        over = adjust(coupon, renamed(readings, names), setup)
        assert over.converged == plain.converged
        assert over.consistent == plain.consistent
        if plain.converged:
            assert over.parameters == pytest.approx(plain.parameters * signs, abs=1e-9)
            assert over.covariance == pytest.approx(plain.covariance * np.outer(signs, signs), abs=1e-9)
            assert over.skew_deg.value == pytest.approx(plain.skew_deg.value * signs[2], abs=1e-7)
            assert over.chi_square == pytest.approx(plain.chi_square, abs=1e-6)


@some
@given(seeds, coupons, setups)
def test_rotating_the_naming_rotates_the_result(seed: int, coupon: Coupon, setup: MeasuringSetup) -> None:
    """A quarter turn exchanges X and Y, so that the skew changes sign: with all ten read, to a few
    micro-degrees: no closer, because the scales' prior is not quite the same along X (sides) and Y (across them).
    """
    for size, tolerance_deg in ((HOUSE_COUPON, 5e-6), (coupon, 1e-5)):
        readings = readings_of(seed, size, setup, set(TEN_FEATURES))
        turned = Coupon(width_mm=size.height_mm, height_mm=size.width_mm)
        plain, rotated = adjust(size, readings, setup), adjust(turned, renamed(readings, QUARTER_TURN), setup)
        assert rotated.consistent == plain.consistent
        assert rotated.chi_square == pytest.approx(plain.chi_square, abs=1e-5)
        assert rotated.skew_deg.value == pytest.approx(-plain.skew_deg.value, abs=tolerance_deg)
        assert abs(rotated.skew_deg.U95 - plain.skew_deg.U95) < 1e-6


@some
@given(seeds, coupons, setups, subsets, st.sampled_from(TEN_FEATURES))
def test_more_readings_never_widen_anything_at_a_fixed_linearisation(
    seed: int, coupon: Coupon, setup: MeasuringSetup, features: set[Feature], another: Feature
) -> None:
    truth = random_truth(np.random.default_rng(seed), setup)
    _, jacobian = predicted_readings(coupon, truth, setup)
    sd = np.array(
        [math.sqrt(setup.instrument(f).mean_variance(1, setup.form.of(f.kind, coupon))) for f in TEN_FEATURES]
    )
    scale = np.array([0.05] * 5 + [0.01, 0.3, 0.2])
    design = jacobian * scale / sd[:, None]
    rows = [TEN_FEATURES.index(feature) for feature in features]
    nothing, ones = np.zeros(8), np.ones(8)
    _, before = least_squares_step(design[rows], np.zeros(len(rows)), nothing, ones)
    more = [*rows, TEN_FEATURES.index(another)]
    _, after = least_squares_step(design[more], np.zeros(len(more)), nothing, ones)
    assert np.linalg.eigvalsh(before - after).min() >= -1e-9


@some
@given(seeds, subsets)
def test_units_never_matter(seed: int, features: set[Feature]) -> None:
    """What a caliper shows in inches gives what the same lengths give in millimetres."""
    readings = readings_of(seed, HOUSE_COUPON, SETUP, features)
    in_inches = [
        Reading(
            feature=r.feature,
            value=Indication(shown=r.value / MM_PER_INCH, unit=Unit.INCH, decimals=4).value,
            unit=Unit.INCH,
        )
        if r.feature.is_length
        else r
        for r in readings
    ]
    plain, converted = adjust(HOUSE_COUPON, readings, SETUP), adjust(HOUSE_COUPON, in_inches, SETUP)
    assert converted.parameters == pytest.approx(plain.parameters, abs=1e-10)
    assert converted.consistent == plain.consistent


@some
@given(seeds, st.floats(0.2, 3.0))
def test_a_coupon_of_another_size_in_the_same_proportion_has_the_same_shape(seed: int, factor: float) -> None:
    """Lengths scaled with all their uncertainties leave every angle as it is: no length unit is built in."""
    rng = np.random.default_rng(seed)
    shape = rng.normal(0.0, SHAPE_SD)
    small = Coupon(width_mm=120.0, height_mm=80.0)
    large = Coupon(width_mm=120.0 * factor, height_mm=80.0 * factor)
    parameters = np.concatenate([shape, [0.0, 0.0, 0.0]])
    values, jacobian = predicted_readings(small, parameters, SETUP)
    deeper = replace(SETUP, jaw_depth_mm=SETUP.jaw_depth_mm * factor)
    scaled, scaled_jacobian = predicted_readings(large, parameters, deeper)
    assert scaled[:6] == pytest.approx(values[:6] * factor, rel=1e-12)
    assert scaled[6:] == pytest.approx(values[6:], abs=1e-10)
    assert scaled_jacobian[6:] == pytest.approx(jacobian[6:], abs=1e-9)


@pytest.mark.parametrize("edge_method", list(EdgeMethod))
def test_every_set_of_features_converges_or_says_inconsistent(edge_method: EdgeMethod) -> None:
    """All 1,023 sets, on clean coupons: they converge, and hardly any alarms; on spoilt ones they come to an end."""
    setup = MeasuringSetup(edge_method=edge_method)
    rng = np.random.default_rng(1)
    sets = np.array([[bool(k >> bit & 1) for bit in range(10)] for k in range(1, 1024)])
    shown = shown_of(rng, random_truths(rng, len(sets), setup), setup=setup)[:, 0]
    many = adjust_many(HOUSE_COUPON, np.where(sets, shown, np.nan), setup)
    assert many.converged.all()
    assert (~many.consistent).mean() <= 0.01
    spoilt = shown * rng.choice([1.0, 1.0, 1.0 / 25.4, 1.04, 2.0], shown.shape)
    wild = adjust_many(HOUSE_COUPON, np.where(sets, spoilt, np.nan), setup)
    assert not (wild.consistent & ~wild.converged).any()
    assert np.isfinite(wild.parameters).all()
    assert np.isfinite(wild.covariance).all()

"""Kerf and scale: told apart by a window, named with their ambiguity without one."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, WINDOW, Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.expansion import expansion_difference
from core.metrology.kerf import SizeCause, size_finding
from tests.core.metrology.known_coupons import SETUP, exact_readings, reading, shape

COUPON = Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=40.0)
LENGTHS = EDGES + DIAGONALS


def coupon_readings(
    *, kerf_mm=0.0, scale_x=0.0, scale_y=0.0, skew_deg=0.0, inner_zero_mm=0.0, window=True, coupon=COUPON
):
    """Outer sizes N s - k, inner N s + k, as exact instruments would read them."""
    outer = shape(
        skew_deg=skew_deg, scale_x=scale_x - kerf_mm / coupon.width_mm, scale_y=scale_y - kerf_mm / coupon.height_mm
    )
    readings = exact_readings(outer, LENGTHS, coupon)
    if window:
        cos = np.cos(np.radians(skew_deg))
        for feature, scale in ((Feature.WINDOW_WIDTH, scale_x), (Feature.WINDOW_HEIGHT, scale_y)):
            across_mm = (coupon.nominal(feature) * (1.0 + scale) + kerf_mm) * cos
            readings.append(reading(feature, float(across_mm) + inner_zero_mm))
    return readings


def found(readings, coupon=COUPON, setup=SETUP, expansion=None):
    return size_finding(adjust(coupon, readings, setup), readings, setup, expansion)


def test_a_window_tells_kerf_and_both_scales_apart():
    finding = found(coupon_readings(kerf_mm=0.3, scale_x=0.004, scale_y=-0.002, skew_deg=1.0))
    assert finding.cause is SizeCause.SEPARATED
    assert finding.kerf_mm.value == pytest.approx(0.3, abs=0.005)
    assert finding.scale_x.value == pytest.approx(0.004, abs=5e-5)
    assert finding.scale_y.value == pytest.approx(-0.002, abs=5e-5)
    assert not finding.contradictory


def test_the_uncertainties_behind_a_window_are_true():
    # Simulated: 400 coupons, the instruments as modelled; 95 % intervals must contain the truth about that often.
    random = np.random.default_rng(20260301)
    inside = np.zeros(3)
    trials = 400
    for _ in range(trials):
        truth = random.normal(0.0, [0.2, 0.002, 0.002])
        zeros = random.normal(0.0, SETUP.caliper.zero_sd, 2)
        loss_mm = random.normal(0.0, 0.05)
        readings = []
        for exact in coupon_readings(kerf_mm=truth[0], scale_x=truth[1], scale_y=truth[2]):
            diagonal = exact.feature in DIAGONALS
            form_mm = SETUP.form.diagonal_mm if diagonal else SETUP.form.edge_mm
            noise_mm = random.normal(0.0, np.sqrt(SETUP.caliper.mean_variance(1, form_mm)))
            zero_mm = zeros[int(exact.feature in WINDOW)]
            readings.append(reading(exact.feature, exact.value + noise_mm + zero_mm - diagonal * loss_mm))
        finding = found(readings)
        estimates = (finding.kerf_mm, finding.scale_x, finding.scale_y)
        inside += [abs(e.value - t) <= e.U95 for e, t in zip(estimates, truth, strict=True)]
    # Three standard deviations of a proportion of 400 about 95 %.
    assert np.all(np.abs(inside / trials - 0.95) < 3.0 * np.sqrt(0.95 * 0.05 / trials)), inside / trials


def test_one_side_of_the_window_is_enough_for_the_kerf():
    readings = [r for r in coupon_readings(kerf_mm=0.3) if r.feature is not Feature.WINDOW_HEIGHT]
    assert found(readings).kerf_mm.value == pytest.approx(0.3, abs=0.005)


def test_the_inner_jaws_have_a_zero_of_their_own():
    coarse = MeasuringSetup(caliper=replace(SETUP.caliper, zero_sd=1.0))
    assert found(coupon_readings(kerf_mm=0.3), setup=coarse).kerf_mm.u > 4 * found(coupon_readings()).kerf_mm.u


def test_axes_that_do_not_agree_on_one_kerf_are_said():
    readings = [
        reading(r.feature, r.value + 0.3) if r.feature is Feature.WINDOW_WIDTH else r for r in coupon_readings()
    ]
    finding = found(readings)
    assert finding.contradictory
    assert "do not agree" in str(finding.text)


@pytest.mark.parametrize(
    ("true", "cause", "ambiguous"),
    [
        ({}, SizeCause.NONE, False),
        ({"kerf_mm": 0.15}, SizeCause.KERF, True),
        ({"kerf_mm": 0.6}, SizeCause.KERF, False),
        ({"kerf_mm": -0.6}, SizeCause.KERF, False),
        ({"scale_x": -0.006, "scale_y": -0.006}, SizeCause.SCALE, False),
        ({"scale_x": -0.0015, "scale_y": -0.0015}, SizeCause.KERF, True),
        ({"scale_x": 0.005, "scale_y": -0.005}, SizeCause.UNEQUAL, False),
    ],
)
def test_without_a_window_equal_millimetres_come_before_equal_per_cent(true, cause, ambiguous):
    finding = found(coupon_readings(window=False, **true))
    assert (finding.cause, finding.ambiguous) == (cause, ambiguous)
    assert ("cannot tell kerf from scale" in str(finding.text)) is ambiguous


def test_a_square_coupon_can_never_tell_without_a_window():
    square = Coupon(width_mm=100.0, height_mm=100.0)
    finding = found(coupon_readings(kerf_mm=2.0, window=False, coupon=square), coupon=square)
    assert (finding.cause, finding.ambiguous) == (SizeCause.KERF, True)


@pytest.mark.parametrize("window", [False, True])
def test_warmth_is_not_taken_for_the_machines_scale(window):
    # Acrylic at 45 degrees Celsius, read with a steel caliper: 60e-6 x 25 K = 0.15 % too long, and nothing else wrong.
    warm = expansion_difference("acrylic", 45.0)
    readings = coupon_readings(scale_x=warm.difference, scale_y=warm.difference, window=window)
    blamed, cleared = found(readings), found(readings, expansion=warm)
    if window:
        assert abs(blamed.scale_x.value) > blamed.scale_x.U95
        assert abs(cleared.scale_x.value) < 1e-5
        assert cleared.scale_x.u > blamed.scale_x.u
        assert cleared.kerf_mm.value == pytest.approx(blamed.kerf_mm.value)
    else:
        assert blamed.cause is not SizeCause.NONE
        assert cleared.cause is SizeCause.NONE


def test_kerf_is_what_the_cut_takes_over_both_sides():
    finding = found(coupon_readings(kerf_mm=0.6, window=False))
    assert finding.kerf_mm.value == pytest.approx(0.6, abs=0.005)
    assert finding.scale_x is None
    assert "too small by equal millimetres, 0.60" in str(finding.text)
    assert "more kerf was allowed for" in str(found(coupon_readings(kerf_mm=-0.6, window=False)).text)


def test_nothing_is_said_before_both_directions_are_read():
    readings = exact_readings(shape(), (Feature.NEAR, Feature.FAR, *DIAGONALS))
    assert found(readings) is None

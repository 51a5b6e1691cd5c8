"""The simulated machine against plane geometry done another way, and the signs of the measuring model."""

from __future__ import annotations

import math
import random

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, Feature
from core.metrology.accuracy import CouponForm
from firmware_bridge.simulation.gantry import CutCoupon, Gantry

COUPON = Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=30.0)
STRAIGHT = CouponForm(edge_mm=0.0, diagonal_mm=0.0, corner_deg=0.0)


def cut(gantry: Gantry) -> CutCoupon:
    return gantry.cut(COUPON, random.Random(1), STRAIGHT)


def test_a_true_machine_cuts_the_nominal_coupon() -> None:
    piece = cut(Gantry(skew_deg=0.0, corner_loss_mm=0.0))
    for feature in (*EDGES, *DIAGONALS, *CORNERS):
        assert math.isclose(piece.true_value(feature), COUPON.nominal(feature), abs_tol=1e-12)


def test_a_racked_machine_cuts_a_parallelogram() -> None:
    """Parallelogram law (Euclid): d1^2 + d2^2 = 2 (a^2 + b^2) and d1^2 - d2^2 = 4 a b cos(angle)."""
    piece = cut(Gantry(skew_deg=0.35, corner_loss_mm=0.0))
    a, b = 120.0, 80.0
    d1, d2 = (piece.true_value(feature) for feature in DIAGONALS)
    assert math.isclose(d1**2 + d2**2, 2 * (a**2 + b**2), rel_tol=1e-12)
    assert math.isclose(d1**2 - d2**2, 4 * a * b * math.cos(math.radians(90 - 0.35)), rel_tol=1e-9)
    assert d1 > d2
    assert piece.true_value(Feature.NL) == pytest.approx(89.65)
    assert piece.true_value(Feature.NR) == pytest.approx(90.35)
    assert piece.true_value(Feature.NEAR) == pytest.approx(120.0 * math.cos(math.radians(0.35)))


def test_kerf_narrows_the_outside_and_widens_the_window() -> None:
    piece = cut(Gantry(skew_deg=0.0, kerf_mm=0.9))
    assert piece.true_value(Feature.NEAR) == pytest.approx(119.1)
    assert piece.true_value(Feature.LEFT) == pytest.approx(79.1)
    assert piece.true_value(Feature.WINDOW_WIDTH) == pytest.approx(60.9)


def test_y_taper_makes_the_right_edge_longer_than_the_left() -> None:
    """As jaws 4 mm deep meet it at both ends of 120 mm: 112/120 of what the corners stand apart."""
    piece = cut(Gantry(skew_deg=0.0, taper_y=0.004))
    seen = piece.true_value(Feature.RIGHT) - piece.true_value(Feature.LEFT)
    assert seen == pytest.approx(2 * 0.004 * 80.0 * 112.0 / 120.0, rel=1e-3)


def test_the_corners_of_any_piece_sum_to_a_full_turn() -> None:
    piece = cut(Gantry(skew_deg=-0.35, taper_x=0.003, taper_y=0.004, scale_x=0.001))
    assert sum(piece.true_value(corner) for corner in CORNERS) == pytest.approx(360.0)


def test_turning_the_piece_over_turns_the_sign_of_the_skew() -> None:
    piece, opposite = cut(Gantry(skew_deg=-0.35)), cut(Gantry(skew_deg=0.35))
    turned = piece.turned_over()
    for feature in Feature:
        assert turned.true_value(feature) == pytest.approx(opposite.true_value(feature))
        assert turned.turned_over().true_value(feature) == piece.true_value(feature)


def test_form_is_drawn_from_the_seed() -> None:
    first, same, other = (Gantry().cut(COUPON, random.Random(seed)) for seed in (1, 1, 2))
    assert first == same
    assert first != other

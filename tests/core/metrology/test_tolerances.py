"""Limits: by class, of the person's own, and the sizes no table covers."""

import pytest

from core.errors import BadInputError, OutsideTableError
from core.geometry.coupon import Coupon
from core.metrology.tolerances import (
    Limits,
    angular_tolerance_deg,
    limits_for_class,
    linear_tolerance_mm,
    own_limits,
    perpendicularity_tolerance_mm,
)

HOUSE = Coupon(width_mm=120.0, height_mm=80.0)


def test_class_with_part_2_judges_perpendicularity_and_not_the_corners():
    limits = limits_for_class(HOUSE, "mK")
    assert limits == Limits(
        source="ISO 2768-mK", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4, corner_deg=None
    )


def test_class_of_part_1_alone_judges_the_corners_and_not_perpendicularity():
    limits = limits_for_class(HOUSE, "c")
    assert limits.perpendicularity_mm is None
    assert limits.corner_deg == pytest.approx(0.5)  # 30 minutes for a shorter side of 50 to 120 mm
    assert limits.judges_squareness
    assert limits.width_edge_mm is not None


def test_each_side_has_the_limit_of_its_own_length():
    limits = limits_for_class(Coupon(width_mm=400.5, height_mm=25.0), "fH")
    assert (limits.width_edge_mm, limits.height_edge_mm, limits.perpendicularity_mm) == (0.3, 0.1, 0.2)


@pytest.mark.parametrize("wrong", ["", "K", "M", "mk", "mKL", "x", "mX", "iso"])
def test_an_unknown_class_says_what_would_be_right(wrong):
    with pytest.raises(BadInputError, match="such as mK"):
        limits_for_class(HOUSE, wrong)


def test_a_step_belongs_to_the_range_below_it():
    assert linear_tolerance_mm(120.0, "m") == 0.3
    assert linear_tolerance_mm(120.01, "m") == 0.5
    assert perpendicularity_tolerance_mm(100.0, "K") == 0.4
    assert perpendicularity_tolerance_mm(100.01, "K") == 0.6
    assert angular_tolerance_deg(50.0, "m") == pytest.approx(30 / 60)
    assert angular_tolerance_deg(50.01, "m") == pytest.approx(20 / 60)


@pytest.mark.parametrize(
    ("look_up", "nominal_mm", "letter", "covered"),
    [
        (linear_tolerance_mm, 2000.5, "f", "0.5 to 2000 mm"),
        (linear_tolerance_mm, 4000.5, "m", "0.5 to 4000 mm"),
        (linear_tolerance_mm, 2.0, "v", "3 to 4000 mm"),
        (linear_tolerance_mm, 0.4, "m", "0.5 to 4000 mm"),
        (perpendicularity_tolerance_mm, 3000.5, "K", "0 to 3000 mm"),
    ],
)
def test_a_size_outside_the_table_says_what_is_covered(look_up, nominal_mm, letter, covered):
    with pytest.raises(OutsideTableError, match=f"covers {covered}.*own limits"):
        look_up(nominal_mm, letter)


def test_a_coupon_outside_the_tables_is_refused_with_its_size():
    with pytest.raises(OutsideTableError, match="3500 mm"):
        limits_for_class(Coupon(width_mm=3500.0, height_mm=80.0), "fH")


def test_own_limits_hold_for_all_four_edges():
    limits = own_limits(edge_mm=0.2, corner_deg=0.3)
    assert (limits.width_edge_mm, limits.height_edge_mm, limits.corner_deg) == (0.2, 0.2, 0.3)
    assert limits.perpendicularity_mm is None
    assert limits.diagonal_mm is None


def test_own_limits_for_size_alone_do_not_judge_squareness():
    limits = own_limits(edge_mm=0.2)
    assert not limits.judges_squareness
    assert limits.width_edge_mm is not None


def test_no_own_limit_at_all_is_refused():
    with pytest.raises(BadInputError, match="at least one"):
        own_limits()


@pytest.mark.parametrize("limit", [0.0, -0.1, 1e-300, float("nan"), float("inf")])
def test_a_limit_must_be_a_positive_number(limit):
    with pytest.raises(BadInputError, match="must lie between"):
        own_limits(diagonal_mm=limit)

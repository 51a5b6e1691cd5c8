"""A coupon being chosen: keys and choices in, the first event of a session out, or the reason why not in words."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.seats import keyed_seats
from core.metrology.expansion import expansion_difference
from core.metrology.readings import MM_PER_INCH
from core.records.events import Opened
from tests.ui.scenes import COUPON
from ui.bench.opening import OwnLimits, opening
from ui.pages.coupon import NONE, CouponDraft, Field, SeatsKind, draft_of, opened_by, with_active, with_grid, with_key
from ui.speech.notation import LengthUnit, Notation

INCH = Notation(lengths=LengthUnit.INCH)
EVERYTHING = opening(
    Coupon(width_mm=250.0, height_mm=150.5, window_width_mm=100.0, window_height_mm=60.0),
    "cL",
    own=OwnLimits(edge_mm=0.2, corner_deg=0.25, diagonal_mm=0.127),
    expansion=expansion_difference("aluminium", 24.5),
    grid="G1",
    place="B2",
)


def keyed(draft: CouponDraft, name: Field, number: str) -> CouponDraft:
    draft = with_active(draft, name)
    for key in number:
        draft = with_key(draft, key)
    return draft


def refused(draft: CouponDraft) -> str:
    opened = opened_by(draft, None)
    assert not isinstance(opened, Opened)
    return str(opened)


def test_the_house_begins_with_its_own_coupon() -> None:
    assert opened_by(draft_of(None), None) == opening(replace(COUPON, seats=keyed_seats(120.0, 80.0)))


@pytest.mark.parametrize("kind", list(SeatsKind))
def test_the_next_coupon_has_the_last_ones_kind_of_seats_by_its_own_size(kind: SeatsKind) -> None:
    last = opened_by(replace(draft_of(None), seats=kind), None)
    assert isinstance(last, Opened)
    draft = keyed(keyed(draft_of(last), Field.WIDTH, "300"), Field.HEIGHT, "200")
    following = opened_by(draft, None)
    assert isinstance(following, Opened)
    assert following.coupon.seats == kind.on(300.0, 200.0)
    assert (following.coupon.seats is None) is (kind is SeatsKind.NONE)


@pytest.mark.parametrize("notation", [Notation(), INCH])
def test_the_next_coupon_begins_with_everything_that_was_chosen_for_the_last(notation: Notation) -> None:
    draft = draft_of(EVERYTHING, notation)
    assert (draft.grid, draft.place) == ("G1", "")
    assert opened_by(replace(draft, place="B2"), None) == EVERYTHING


def test_limits_alone_begin_again_without_a_class() -> None:
    alone = opening(COUPON, "", own=OwnLimits(perpendicularity_mm=0.35))
    draft = draft_of(alone)
    assert (draft.part_1, draft.tolerance_class) == (NONE, "")
    assert opened_by(draft, None) == alone


def test_the_temperature_is_the_last_coupons_until_one_is_keyed_in() -> None:
    draft = draft_of(EVERYTHING)
    assert draft.carried_over
    assert keyed(draft, Field.EDGE, "0.3").carried_over
    assert not keyed(draft, Field.TEMPERATURE, "24.5").carried_over
    assert not draft_of(None).carried_over


def test_a_limit_keyed_in_inches_is_kept_in_millimetres() -> None:
    draft = keyed(draft_of(None, INCH), Field.SQUARE, "0.02")
    opened = opened_by(draft, None)
    assert isinstance(opened, Opened)
    assert opened.limits.perpendicularity_mm == pytest.approx(0.02 * MM_PER_INCH)
    assert opened.limits.width_edge_mm == 0.3  # the class's own


def test_degrees_stay_degrees_whatever_the_unit_of_length() -> None:
    draft = keyed(replace(draft_of(None, INCH), material="acrylic"), Field.TEMPERATURE, "27.5")
    draft = keyed(draft, Field.CORNER, "0.4")
    opened = opened_by(draft, None)
    assert isinstance(opened, Opened)
    assert opened.limits.corner_deg == 0.4
    assert opened.expansion == expansion_difference("acrylic", 27.5)


@pytest.mark.parametrize(
    ("name", "number", "said"),
    [
        (Field.HEIGHT, "5", "between 10 and 4000 mm"),
        (Field.WIDTH, "3999", "another class or give your own"),  # f covers 2000 mm
        (Field.WINDOW_WIDTH, "60", "both of its sides, or delete both"),
        (Field.TEMPERATURE, "27", "material and temperature belong together"),
        (Field.CORNER, "0", "limit of the corners, 0°: it must lie between"),
    ],
)
def test_what_is_wrong_is_said(name: Field, number: str, said: str) -> None:
    draft = replace(draft_of(None), part_1="f")
    assert said in refused(keyed(draft, name, number))


def test_a_window_larger_than_the_coupon_is_refused() -> None:
    draft = keyed(keyed(draft_of(None), Field.WINDOW_WIDTH, "130"), Field.WINDOW_HEIGHT, "40")
    assert "window width 130 mm: it must be smaller than the coupon (120 mm)" in refused(draft)


def test_a_material_without_a_temperature_and_a_bench_nobody_works_at_are_refused() -> None:
    warm = replace(draft_of(None), material="steel")
    assert "belong together" in refused(warm)
    assert "between −20 and 60 degrees Celsius" in refused(keyed(warm, Field.TEMPERATURE, "90"))


def test_without_class_and_limit_nothing_could_be_judged() -> None:
    assert "at least one limit must be given" in refused(replace(draft_of(None), part_1=NONE))


def test_deleted_is_not_chosen() -> None:
    draft = draft_of(EVERYTHING)
    for name in (Field.WINDOW_WIDTH, Field.WINDOW_HEIGHT, Field.DIAGONAL):
        draft = with_key(with_active(draft, name), "back")
    opened = opened_by(replace(draft, place="B3"), None)
    assert isinstance(opened, Opened)
    assert (opened.coupon.window_width_mm, opened.limits.diagonal_mm) == (None, None)


def test_a_coupon_of_a_grid_has_the_window_of_the_others() -> None:
    """What lists keep of a coupon has no seats: the kind is the one chosen, the sizes are the grid's."""
    draft = with_grid(replace(draft_of(None), seats=SeatsKind.NONE), "G1", EVERYTHING.coupon)
    opened = opened_by(replace(draft, place="A1"), None)
    assert isinstance(opened, Opened)
    assert opened.coupon == EVERYTHING.coupon

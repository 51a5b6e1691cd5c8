"""A coupon is named by touch, field by field, from the menu or the numbers."""

from __future__ import annotations

from msgspec.structs import replace

from core.records.events import Labelled
from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.measuring import LabelCoupon


def test_an_order_is_typed_and_kept(screen) -> None:
    screen.show(replace(SCENES["no-go"](), closed=True))
    screen.go("label")
    tap_text(screen, "Name or order\n–")
    for key in ("B", "space", "1", "7", "-", "O", "A", "K", "K", "delete"):
        tap_text(screen, key)
    find_text(screen, "B 17-Oak")
    tap_text(screen, "Keep it")
    assert screen.bench.sent == [LabelCoupon(label=Labelled(order="B 17-Oak"))]
    find_text(screen, "Customer\n–")


def test_a_field_begins_with_what_stands_in_it_and_leaves_the_others(screen) -> None:
    label = Labelled(order="B 17", customer="Oak")
    screen.show(replace(SCENES["no-go"](), label=label))
    screen.go("label")
    tap_text(screen, "Customer\nOak")
    tap_text(screen, "S")
    tap_text(screen, "Keep it")
    assert screen.bench.sent == [LabelCoupon(label=replace(label, customer="Oaks"))]


def test_without_a_coupon_it_says_so(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("label")
    find_text(screen, "There is no coupon on the bench to label.")

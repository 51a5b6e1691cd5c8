"""A new coupon under real touches, and the draft behind it."""

from __future__ import annotations

from tests.ui.scenes import SCENES
from tests.ui.touching import tap_text
from ui.commands import ConfirmMark, LoadGrid, OpenSession
from ui.coupon_draft import draft_of, opened_by, with_active, with_key


def test_three_touches_lead_to_the_first_reading(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("home")
    tap_text(screen, "Measure a coupon")
    tap_text(screen, "Start this coupon")
    looked_up, command = screen.bench.sent
    assert looked_up == LoadGrid(machine="")
    assert isinstance(command, OpenSession)
    assert (command.opened.coupon.width_mm, command.opened.coupon.height_mm) == (120.0, 80.0)
    screen.show(SCENES["mark"]())
    assert screen.app.root.screen.name == "measure"
    tap_text(screen, "It lies so")
    assert screen.bench.sent[2:] == [ConfirmMark()]


def test_sides_and_class_are_keyed_in(screen) -> None:
    screen.go("coupon")
    for key in "250":
        tap_text(screen, key)
    tap_text(screen, "height, along machine Y")
    for key in "150.5":
        tap_text(screen, key)
    tap_text(screen, "c")
    tap_text(screen, "L")
    tap_text(screen, "Start this coupon")
    opened = screen.bench.sent[-1].opened
    assert (opened.coupon.width_mm, opened.coupon.height_mm) == (250.0, 150.5)
    assert opened.limits.source == "ISO 2768-cL"


def test_an_impossible_coupon_says_why() -> None:
    draft = with_key(with_active(draft_of(None), "height"), "5")
    assert "between 10 and 4000 mm" in str(opened_by(draft, None))


def test_a_size_outside_the_table_says_which_class_covers_it() -> None:
    draft = draft_of(None)
    for key in "3500":
        draft = with_key(draft, key)
    assert opened_by(draft, None) != ""

"""Limits, window and warmth under real touches: chosen on a page each, back on the new-coupon screen as numbers."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.metrology.expansion import expansion_difference
from tests.ui.layout_checks import faults, faults_of_place
from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, tap_text
from ui.pages.limits import PAGE_WORDS
from ui.speech.notation import DecimalMark, LengthUnit, Notation
from ui.state.settings import Settings

INCH = Settings(notation=Notation(lengths=LengthUnit.INCH, mark=DecimalMark.COMMA))


def key_in(screen, field: str, number: str) -> None:
    tap_text(screen, field)
    for key in number:
        tap_text(screen, key)


@pytest.fixture
def choosing(screen):
    screen.show(SCENES["empty"]())
    screen.go("coupon")
    tap_text(screen, "Limits and more")
    return screen


def started(screen):
    tap_text(screen, "Done")
    tap_text(screen, "Start this coupon")
    return screen.bench.sent[-1].opened


def test_everything_by_touch(choosing) -> None:
    tap_text(choosing, "none")
    assert "at least one limit must be given" in str(choosing.app.root.screen.text)
    tap_text(choosing, "Own limits")
    for key in "0.2":  # the first number is up
        tap_text(choosing, key)
    key_in(choosing, "squareness", "0.35")
    key_in(choosing, "diagonals differ", "0.5")
    tap_text(choosing, "Seats, window")
    for key in "60":
        tap_text(choosing, key)
    key_in(choosing, "along Y", "40")
    tap_text(choosing, "Temperature")
    tap_text(choosing, "acrylic")
    for key in "27.5":
        tap_text(choosing, key)
    opened = started(choosing)
    limits = opened.limits
    assert (limits.source, limits.width_edge_mm, limits.perpendicularity_mm) == ("own limits", 0.2, 0.35)
    assert (limits.corner_deg, limits.diagonal_mm) == (None, 0.5)
    assert (opened.coupon.window_width_mm, opened.coupon.window_height_mm) == (60.0, 40.0)
    assert opened.expansion == expansion_difference("acrylic", 27.5)


def test_yesterdays_temperature_is_said_to_be_so_until_todays_is_keyed_in(screen) -> None:
    screen.show(SCENES["terms"]())
    screen.go("limits")
    tap_text(screen, "Temperature")
    assert "as before" in str(screen.app.root.screen.text)
    for key in "25":
        tap_text(screen, key)
    assert str(screen.app.root.screen.text).endswith("from acrylic at 25 °C.")


def test_limits_are_keyed_in_in_the_persons_unit(choosing) -> None:
    choosing.show(replace(SCENES["empty"](), settings=INCH))
    choosing.go("coupon")
    tap_text(choosing, "Limits and more")
    tap_text(choosing, "Own limits")
    for key in "0,01":
        tap_text(choosing, key)
    assert started(choosing).limits.width_edge_mm == 0.254


def test_a_refused_value_keeps_the_coupon_from_starting_and_says_why(choosing) -> None:
    tap_text(choosing, "Seats, window")
    for key in "130":
        tap_text(choosing, key)
    key_in(choosing, "along Y", "40")
    tap_text(choosing, "Done")
    assert find_text(choosing, "Start this coupon").disabled
    assert "window width 130 mm" in str(choosing.app.root.screen.remark)


def test_back_keeps_what_was_chosen_and_the_sides_keyed_in_before(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("coupon")
    for key in "250":
        tap_text(screen, key)
    tap_text(screen, "Limits and more")
    tap_text(screen, "c coarse")
    tap_text(screen, "< Back")
    tap_text(screen, "Start this coupon")
    opened = screen.bench.sent[-1].opened
    assert (opened.coupon.width_mm, opened.limits.source) == (250.0, "ISO 2768-cK")


@pytest.mark.parametrize("size", [(480, 320), (800, 480), (1024, 600), (1280, 720), (720, 1280)], ids=str)
@pytest.mark.parametrize("words", [words for _page, words in PAGE_WORDS])
def test_pages_can_be_hit_and_read(looked_at, size: tuple[int, int], words: str) -> None:
    with looked_at.resized(size):
        looked_at.show(SCENES["terms"]())
        looked_at.go("limits")
        tap_text(looked_at, words)
        assert faults_of_place(looked_at) == []


@pytest.mark.parametrize("words", [words for _page, words in PAGE_WORDS])
def test_pages_in_inches_with_a_comma(looked_at, words: str) -> None:
    looked_at.show(replace(SCENES["terms"](), settings=INCH))
    looked_at.go("limits")
    tap_text(looked_at, words)
    assert faults(looked_at) == []

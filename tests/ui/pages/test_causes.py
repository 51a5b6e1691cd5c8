"""The pages of the causes screen as values."""

from __future__ import annotations

from tests.ui.scenes import SCENES
from ui.pages.causes import Page, causes_page


def test_the_next_coupons_readings_are_foretold_once_a_correction_stands() -> None:
    page = causes_page(SCENES["to-correct"](), Page.NEXT)
    lines = str(page.text).splitlines()
    assert len(lines) == 10
    assert any(line.startswith("corner NL: ") and line.endswith("°") for line in lines)


def test_without_a_coupon_nothing_is_foretold_and_it_says_why() -> None:
    assert "needs a judged coupon" in str(causes_page(SCENES["empty"](), Page.NEXT).text)

"""What a coupon is judged by, in words; limits always as numbers."""

from __future__ import annotations

import pytest

from core.geometry.coupon import Coupon
from core.geometry.seats import keyed_seats
from core.metrology.tolerances import Limits
from core.said import said
from tests.ui.scenes import COUPON
from ui.bench.opening import OwnLimits, opening
from ui.pages.limits import PAGE_TEXT, Page, limits_text, page_text, terms_text


@pytest.mark.parametrize(
    ("limit_mm", "figures"), [(0.3, "0.30"), (0.127, "0.127"), (0.0005, "0.0005"), (12.0, "12.00"), (0.015, "0.015")]
)
def test_a_limit_is_written_with_as_many_figures_as_say_it(limit_mm: float, figures: str) -> None:
    assert str(limits_text(Limits(source="", diagonal_mm=limit_mm))) == f"diagonals {figures} mm"


def test_a_class_alone_says_its_numbers() -> None:
    assert str(terms_text(opening(COUPON))) == "ISO 2768-mK: squareness 0.40 mm, edges ± 0.30 mm."


def test_without_a_limit_for_squareness_it_is_said_that_it_is_not_judged() -> None:
    text = str(terms_text(opening(COUPON, "", own=OwnLimits(edge_mm=0.2))))
    assert text == "own limits: edges ± 0.20 mm. Squareness is not judged: it has no limit."


@pytest.mark.parametrize("page", Page)
def test_every_page_says_what_it_is_for_and_what_is_wrong(page: Page) -> None:
    assert str(page_text(page, said("Key in both sides."))) == f"{PAGE_TEXT[page]}\nKey in both sides."


def test_pages_say_what_their_choices_come_to() -> None:
    plain = opening(COUPON)
    windowed = opening(Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=40.5))
    assert str(page_text(Page.WINDOW, plain)).endswith(
        "\nNo seats: the diagonals are read from corner to corner. No window."
    )
    assert str(page_text(Page.WINDOW, windowed)).endswith(" Window 60 × 40.5 mm.")
    keyed = opening(Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0)))
    assert str(page_text(Page.WINDOW, keyed)).endswith("\nSeats 8 mm on NL-FR, 5 mm on NR-FL. No window.")
    assert "Seats 8 mm on NL-FR" in str(terms_text(keyed))
    assert str(page_text(Page.WARMTH, plain)).endswith("\nSizes are judged as they are read.")

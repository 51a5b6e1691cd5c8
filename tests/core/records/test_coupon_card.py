"""The card to take to the machine: read back by a parser that is not ours, in English and German."""

from __future__ import annotations

import io

import pypdf
import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.geometry.seats import keyed_seats
from core.records.coupon_card import coupon_card

COUPON = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
WINDOWED = Coupon(width_mm=300.0, height_mm=200.0, window_width_mm=150.0, window_height_mm=80.0)


def page_of(coupon: Coupon) -> pypdf.PageObject:
    (page,) = pypdf.PdfReader(io.BytesIO(coupon_card(coupon))).pages
    return page


@pytest.mark.parametrize("coupon", [COUPON, WINDOWED])
def test_every_feature_has_its_line_with_what_it_should_be(coupon: Coupon) -> None:
    lines = page_of(coupon).extract_text().split("\n")
    values = [line for line in lines if line.endswith(" mm") or line.endswith("°")]
    for feature in coupon.features:
        nominal = coupon.nominal(feature)
        assert (f"{nominal:.2f} mm" if feature.is_length else f"{nominal:g}°") in " ".join(values)
    assert sum("edge" in line and "Edges" not in line for line in lines) == 4
    assert sum(line.startswith("window") for line in lines) == (2 if coupon.has(Feature.WINDOW_WIDTH) else 0)


def test_it_says_how_the_coupon_lies_and_where_the_jaws_go() -> None:
    text = " ".join(page_of(COUPON).extract_text().split())
    for said in ("pencil a cross", "do not turn", "8 mm", "seats", "smallest reading", "you stand here", "come first"):
        assert said in text
    assert "seat" not in page_of(WINDOWED).extract_text()


def test_nothing_is_written_outside_the_page() -> None:
    places: list[tuple[float, float, str]] = []

    def visit(text: str, _cm: object, matrix: list[float], _font: object, _size: float) -> None:
        if text.strip():
            places.append((matrix[4], matrix[5], text))

    for coupon in (COUPON, WINDOWED, Coupon(width_mm=60.0, height_mm=300.0)):
        page = page_of(coupon)
        page.extract_text(visitor_text=visit)
        assert all(0.0 < x < 560.0 and 5.0 < y < 842.0 for x, y, _ in places), places


def test_the_coupon_is_drawn_in_true_size_where_the_page_holds_it() -> None:
    assert "True size" in page_of(COUPON).extract_text()
    assert "smaller than it is" in page_of(WINDOWED).extract_text()
    # The outline in points of 1/72 inch: both long edges between their seats, as a parser finds them in the stream.
    stream = page_of(COUPON).get_contents()
    assert stream is not None
    points = [
        tuple(map(float, words[:2]))
        for words in map(str.split, stream.get_data().decode("latin-1").split("\n"))
        if words[2:] in (["m"], ["l"])
    ]
    wide = 120.0 * 72.0 / 25.4
    lefts = sorted({round(x, 1) for x, _ in points})
    assert any(abs(right - left - wide) < 0.2 for left in lefts for right in lefts)


def test_the_same_coupon_gives_the_same_bytes() -> None:
    assert coupon_card(COUPON) == coupon_card(COUPON)

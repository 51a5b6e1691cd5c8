from __future__ import annotations

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.readings import Unit
from ui.pages.keypad import BACKSPACE, MAX_FIGURES, Entry, press, remark

COUPON = Coupon(width_mm=120.0, height_mm=80.0)


def keyed(keys: str, unit: Unit = Unit.MM) -> Entry:
    entry = Entry(unit=unit)
    for key in keys:
        entry = press(entry, BACKSPACE if key == "<" else key)
    return entry


@pytest.mark.parametrize(
    ("keys", "text", "shown"),
    [
        ("119.85", "119.85", 119.85),
        ("1.1.9", "1.19", 1.19),
        ("12<3", "13", 13.0),
        ("<", "", None),
        (".", ".", None),
        (".5", ".5", 0.5),
    ],
)
def test_keys_make_a_number(keys: str, text: str, shown: float | None) -> None:
    entry = keyed(keys)
    assert (entry.text, entry.shown) == (text, shown)


def test_a_number_cannot_grow_without_end() -> None:
    assert str(keyed("9" * 20).text) == "9" * MAX_FIGURES


def test_inches_become_millimetres() -> None:
    assert keyed("4.7185", Unit.INCH).value == pytest.approx(119.85, abs=0.001)


def test_what_is_said_about_the_number() -> None:
    assert str(remark(keyed("119.85"), COUPON, Feature.NEAR)) == ""
    assert "inches" in str(remark(keyed("4.72"), COUPON, Feature.NEAR))
    assert "look again" in str(remark(keyed("11.985"), COUPON, Feature.NEAR))
    assert "Expected between 114.00 mm and 126.00 mm" in str(remark(keyed(""), COUPON, Feature.NEAR))

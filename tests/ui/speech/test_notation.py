"""Inches, minutes of arc and commas: exact where the standards are."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, strategies as st

from ui.speech.notation import AS_KEPT, AngleStyle, DecimalMark, LengthUnit, Notation, set_in_type

INCH = Notation(lengths=LengthUnit.INCH)
DMS = Notation(angles=AngleStyle.DMS)
COMMA = Notation(mark=DecimalMark.COMMA)
ALL = Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS, mark=DecimalMark.COMMA)


@pytest.mark.parametrize(
    ("mm", "inches"),
    [(25.4, "1.0000 in"), (50.8, "2.0000 in"), (76.2, "3.0000 in"), (0.254, "0.0100 in"), (-25.4, "−1.0000 in")],
)
def test_an_inch_is_25_4_mm(mm: float, inches: str) -> None:
    """ISO 31-1, annex: exactly; the setting blocks of 1, 2 and 3 inches."""
    assert INCH.length(mm) == inches


@pytest.mark.parametrize(
    ("deg", "decimals", "text"),
    [(89.5, 1, "89°30′"), (90.0, 0, "90°"), (0.35, 2, "0°21′00″"), (-0.35, 2, "−0°21′00″"), (59.999, 1, "60°00′")],
)
def test_a_degree_is_60_minutes_of_60_seconds(deg: float, decimals: int, text: str) -> None:
    """BIPM, SI brochure, table 8."""
    assert DMS.angle(deg, decimals) == text


def test_as_it_is_kept_nothing_changes() -> None:
    assert AS_KEPT.length(119.854) == "119.85 mm"
    assert AS_KEPT.angle(-0.354) == "−0.35°"


@given(st.floats(-2000, 2000), st.integers(0, 3))
def test_no_digit_is_lost(mm: float, decimals: int) -> None:
    shown = INCH.length_digits(mm, decimals).replace("−", "-")
    assert math.isclose(float(shown) * 25.4, mm, abs_tol=0.5 * 10**-decimals)


@given(st.floats(-180, 180))
def test_seconds_are_the_angle(deg: float) -> None:
    text = DMS.angle(deg, 2).replace("−", "-")
    sign = -1 if text.startswith("-") else 1
    whole, minutes, seconds = text.strip("-″").replace("°", " ").replace("′", " ").split()
    assert int(minutes) < 60
    assert int(seconds) < 60
    assert abs(sign * (int(whole) + int(minutes) / 60 + int(seconds) / 3600) - deg) <= 0.5 / 3600 + 1e-9


@given(st.floats(85, 95), st.floats(85, 95))
def test_live_angles_never_jump_in_width(one: float, other: float) -> None:
    assert len(DMS.angle(one, 1)) == len(DMS.angle(other, 1)) == len("89°30′")


@pytest.mark.parametrize(
    ("sentence", "set_so"),
    [
        ("the skew is 3.33 ± 0.41 mm.", "the skew is 3.33 ±\u00a00.41\u00a0mm."),
        ("coupon 2026-11-25-1, diagonal NL-FR", "coupon 2026-11-25-1, diagonal NL-FR"),
    ],
)
def test_a_number_is_held_to_its_unit(sentence: str, set_so: str) -> None:
    assert set_in_type(sentence) == set_so

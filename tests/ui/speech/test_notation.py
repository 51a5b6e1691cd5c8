"""Inches, minutes of arc and commas: exact where the standards are, and nothing else in a sentence is touched."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

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


@pytest.mark.parametrize(
    ("kept", "shown"),
    [
        ("move the right end by 3.93 ± 0.42 mm towards you.", "move the right end by 0,1547 ± 0,0165 in towards you."),
        ("Skew −0.35 ± 0.06°: corners NR", "Skew −0°21′00″ ± 0°03′36″: corners NR"),
        ("Skew +0.345 ± 0.060 degrees, after", "Skew +0°20′42″ ± 0°03′36″, after"),
        ("coupon 120 × 80 mm, limit ±0.40 mm.", "coupon 4,7244 × 3,1496 in, limit ±0,0157 in."),
        ("90° ± 0.30°", "90° ± 0°18′00″"),
        ("a block of 25.4 mm", "a block of 1 in"),
        # Not lengths or angles, but numbers all the same.
        ("First belt 61.7 ± 0.4 Hz", "First belt 61,7 ± 0,4 Hz"),
        ("Scales are taken out: X +0.021 %", "Scales are taken out: X +0,021 %"),
    ],
)
def test_a_sentence_is_written_as_the_person_chose(kept: str, shown: str) -> None:
    assert ALL.sentence(kept) == shown


@pytest.mark.parametrize(
    "text",
    [
        "Sizes are those at 20 °C, from acrylic at 27 degrees Celsius.",
        "cornerwise 0.1.0",
        "cornerwise correct-design FILE OUT --skew 0.351 --scale-x 0.02",
        "archive.sqlite at 2026-11-25 09:30, ISO 2768-mK",
        "calibrated in mm, 5 readings",
    ],
)
def test_what_is_no_quantity_is_left_alone(text: str) -> None:
    assert ALL.sentence(text) == text


def test_feeler_leaves_are_named_by_what_is_stamped_on_them() -> None:
    assert INCH.sentence("In feelers: leaves 0.30 + 0.05 mm.") == "In feelers: leaves 0.30 + 0.05 mm."
    assert INCH.sentence("left 12.70 mm (block 12.00 + leaf 0.70 mm)") == "left 0.5000 in (block 12.00 + leaf 0.70 mm)"


def test_as_it_is_kept_nothing_changes() -> None:
    text = "3.93 ± 0.42 mm, −0.35°"
    assert AS_KEPT.sentence(text) == text
    assert AS_KEPT.length(119.854) == "119.85 mm"
    assert AS_KEPT.angle(-0.354) == "−0.35°"


@given(
    st.lists(
        st.sampled_from(
            ["3.93", "±", "0.42", "mm", "mm,", "89.6°", "−1.20 degrees", "to", "×", "80", "in", "°", "x", "."]
        )
    )
)
def test_saying_it_twice_changes_nothing(words: list[str]) -> None:
    for notation in (INCH, DMS, COMMA, ALL):
        once = notation.sentence(" ".join(words))
        assert notation.sentence(once) == once


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


@pytest.mark.parametrize("notation", [AS_KEPT, Notation(mark=DecimalMark.COMMA)])
def test_a_minus_is_a_minus_and_a_hyphen_stays_one(notation: Notation) -> None:
    """What is typed, a date and a name keep the hyphen; the minus sign of a number is no hyphen (ISO 80000-1)."""
    said = notation.sentence("Skew -0.350 ± 0.060 degrees (-1.20 mm) on 2026-11-20: NL-FR, --skew -0.350")
    assert said.startswith("Skew −0")
    assert "(−1" in said
    assert said.endswith("on 2026-11-20: NL-FR, --skew -0.350")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Keine Schiefe nachgewiesen: +0.477 ± 0.058 Grad.", "Keine Schiefe nachgewiesen: +0°28′37″ ± 0°03′29″."),
        ("Erwartet von 114.00 bis 126.00 mm.", "Erwartet von 4,4882 bis 4,9606 in."),
        ("dazu Klotz 12.70 + Fühlerblatt 0.35 mm", "dazu Klotz 12,70 + Fühlerblatt 0,35 mm"),
    ],
)
def test_german_sentences_are_put_into_the_notation_as_well(text: str, said: str) -> None:
    assert ALL.sentence(text) == said


@pytest.mark.parametrize(
    ("sentence", "set_so"),
    [
        ("the skew is 3.33 ± 0.41 mm.", "the skew is 3.33 ±\u00a00.41\u00a0mm."),
        ("coupon 2026-11-25-1, diagonal NL-FR", "coupon 2026-11-25-1, diagonal NL-FR"),
    ],
)
def test_a_number_is_held_to_its_unit(sentence: str, set_so: str) -> None:
    assert set_in_type(sentence) == set_so

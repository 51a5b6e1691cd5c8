"""Two belts compared: string physics (Mersenne, 1636; values worked here)."""

from __future__ import annotations

import pytest

from core.machine.belt_note import BeltNote
from core.machine.belts import compare_belts, string_tension_n
from core.metrology.adjustment import Estimate


def note_at(f_hz: float, u: float = 0.1) -> BeltNote:
    return BeltNote(frequency_hz=Estimate(value=f_hz, u=u), plucks=1)


def test_the_law_of_strings() -> None:
    # A string of 0.007569 kg/m, 0.395 m long, at 18 N sounds at 61.73 Hz (worked example of string physics).
    assert string_tension_n(61.73, 395.0, 0.007569) == pytest.approx(18.0, rel=1e-3)


def test_equal_spans_compare_by_frequency_alone() -> None:
    comparison = compare_belts(note_at(90.0), note_at(80.0))
    assert comparison.tension_ratio.value == pytest.approx((90.0 / 80.0) ** 2)
    assert not comparison.equal
    assert comparison.tensions_n is None
    assert str(comparison.text) == "First belt 90.0 Hz, second 80.0 Hz: the first belt is tighter by 27 ± 1 %."
    other = compare_belts(note_at(80.0), note_at(90.0))
    assert "the second belt is tighter by 27 ± 1 %" in str(other.text)


def test_unequal_spans_need_their_lengths_and_newtons_the_mass() -> None:
    # The same tension on spans of 400 and 500 mm: frequencies as 5 to 4.
    comparison = compare_belts(note_at(100.0), note_at(80.0), lengths_mm=(400.0, 500.0), mass_kg_per_m=0.008)
    assert comparison.equal
    assert "no difference in tension is proven" in str(comparison.text)
    assert comparison.tensions_n is not None
    assert [tension.value for tension in comparison.tensions_n] == pytest.approx([51.2, 51.2])

"""Figures of the workshop, the source beside each: threads, strings, setting blocks, the parallelogram."""

from __future__ import annotations

import math

import numpy as np
import pytest

from core.geometry.coupon import Coupon
from core.geometry.shape import true_features
from core.machine.belt_note import BeltNote, belt_note
from core.machine.belts import string_tension_n
from core.machine.correction_words import own_units_sentence
from core.machine.directions import Side
from core.machine.feelers import BLOCKS_MM
from core.machine.gantry_correction import Correction, correction_of_skew
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.adjustment import Estimate

# ISO 261: coarse pitch by nominal diameter, mm.
ISO_261_COARSE = {2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25, 10.0: 1.5}


@pytest.mark.parametrize(("diameter_mm", "pitch_mm"), ISO_261_COARSE.items())
def test_a_turn_of_a_metric_screw_moves_its_pitch(diameter_mm: float, pitch_mm: float) -> None:
    profile = MachineProfile(name=f"M{diameter_mm:g}", span_mm=640.0, held=HowHeld.SCREWS, screw_pitch_mm=pitch_mm)
    said = str(own_units_sentence(pitch_mm, pitch_mm, Side.RIGHT, profile))
    assert "1.00 turns of the screw" in said
    assert "1 turn and 0/12" in said
    assert profile.least_count_mm == pytest.approx(pitch_mm / 12.0)
    skew_deg = Estimate(value=math.degrees(math.atan(2.5 * pitch_mm / 640.0)), u=0.001)
    correction = correction_of_skew(skew_deg, profile)
    assert isinstance(correction, Correction)
    assert "2.50 turns" in str(correction.own_units)
    assert "2 turns and 6/12" in str(correction.own_units)


def test_a_string_sounds_as_the_worked_example_says() -> None:
    """Law of strings (Mersenne), an example from memory: 0.007569 kg/m, 0.395 m, 18 N: 61.73 Hz, heard here."""
    rate_hz, f_hz = 16000, math.sqrt(18.0 / 0.007569) / (2.0 * 0.395)
    assert f_hz == pytest.approx(61.73, abs=0.01)
    t = np.arange(rate_hz) / rate_hz
    sound = sum(np.sin(2 * np.pi * n * f_hz * t) * np.exp(-t * n / 0.5) / n**2 for n in range(1, 8))
    note = belt_note(np.concatenate([np.zeros(rate_hz // 2), sound]), rate_hz)
    assert isinstance(note, BeltNote)
    assert string_tension_n(note.frequency_hz.value, 395.0, 0.007569) == pytest.approx(18.0, rel=0.005)


def test_a_setting_block_is_one_by_two_by_three_inches() -> None:
    """Common practice."""
    assert BLOCKS_MM == (25.4, 50.8, 76.2)


@pytest.mark.parametrize("skew_deg", [-2.0, 0.1, 0.5])
def test_the_parallelogram_law(skew_deg: float) -> None:
    """Euclid: d1² + d2² = 2 (a² + b²) and d1² - d2² = 4 a b cos(angle), on a coupon of a purely racked machine."""
    coupon = Coupon(width_mm=120.0, height_mm=80.0)
    skew = math.radians(skew_deg)
    shape = np.array([0.0, math.cos(skew) - 1.0, math.sin(skew), 0.0, 0.0])
    near, right, _, _, longer, shorter, nl, *_ = true_features(coupon, shape)[0]
    assert longer**2 + shorter**2 == pytest.approx(2.0 * (near**2 + right**2))
    assert longer**2 - shorter**2 == pytest.approx(4.0 * near * right * math.cos(math.radians(nl)))
    assert nl == pytest.approx(90.0 - skew_deg)


@pytest.mark.parametrize("skew_deg", [-0.3, 0.15, 1.0])
def test_the_difference_of_the_diagonals_is_the_skew(skew_deg: float) -> None:
    """Euclid (law of cosines, twice): d1² - d2² = 4 W H sin(skew) with W and H the sides, on the house's coupon."""
    coupon = Coupon(width_mm=120.0, height_mm=80.0)
    skew = math.radians(skew_deg)
    # A purely racked machine: the sides keep their lengths along the two motions.
    shape = np.array([0.0, math.cos(skew) - 1.0, math.sin(skew), 0.0, 0.0])
    longer, shorter = true_features(coupon, shape)[0][4:6]
    assert longer**2 - shorter**2 == pytest.approx(4.0 * 120.0 * 80.0 * math.sin(skew), rel=1e-12)

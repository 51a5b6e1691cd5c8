"""Colours that stay apart for colour-blind eyes, and a scale that fits every panel."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from core.metrology.sentences import VERDICT_WORD
from core.metrology.verdict import Verdict
from tests.ui.colour_sight import DEUTERANOPIA, PROTANOPIA, USUAL, ciede2000, lab
from tests.ui.contrast import contrast_ratio
from ui.pages.theme import DARK, LIGHT, SHAPE_OF, Palette, Shape, rgb, scale_for, target_for

Lab = tuple[float, float, float]

# Just noticeable is about 1. Lamps must be far beyond it: told apart at a glance, in bad light.
LAMPS_APART = 20.0
EYES = pytest.mark.parametrize("eyes", [USUAL, PROTANOPIA, DEUTERANOPIA], ids=["usual", "protanopia", "deuteranopia"])


@pytest.mark.parametrize(
    ("one", "other", "difference"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
        ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ],
)
def test_differences_of_colours_are_those_published(one: Lab, other: Lab, difference: float) -> None:
    """Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Res. Appl. 30 (2005), from memory."""
    assert ciede2000(np.array(one), np.array(other)) == pytest.approx(difference, abs=1e-4)
    assert ciede2000(np.array(other), np.array(one)) == pytest.approx(difference, abs=1e-4)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@EYES
def test_lamps_stay_apart(palette: Palette, eyes: np.ndarray) -> None:
    np.testing.assert_allclose(eyes.sum(axis=1), 1.0, atol=2e-6)
    fills = [lab(palette.lamp(shape).fill, eyes) for shape in Shape]
    assert min(ciede2000(one, other) for one, other in combinations(fills, 2)) > LAMPS_APART


def test_every_verdict_has_a_word_and_a_shape_of_its_own() -> None:
    assert len({VERDICT_WORD[verdict] for verdict in Verdict}) == len(Verdict)
    assert len({SHAPE_OF[verdict] for verdict in Verdict}) == len(Verdict)
    assert Shape.RING not in {SHAPE_OF[verdict] for verdict in Verdict}


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_written_colours_are_readable(palette: Palette) -> None:
    written = [
        (palette.ink, palette.paper),
        (palette.ink, palette.panel),
        (palette.ink, palette.zone),
        (palette.quiet, palette.paper),
        (palette.quiet, palette.panel),
        (palette.failing, palette.paper),
        (palette.failing, palette.panel),
        (palette.accent, palette.paper),
        (palette.accent, palette.panel),
        (palette.accent_ink, palette.accent),
        (palette.fitted, palette.paper),
        (palette.stamp, palette.paper),
    ]
    assert min(contrast_ratio(ink, ground) for ink, ground in written) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_what_is_drawn_over_the_band_of_a_limit_stands_out(palette: Palette) -> None:
    """WCAG 2, 1.4.11: three to one for what is drawn."""
    assert min(contrast_ratio(ink, palette.zone) for ink in (palette.ink, palette.failing, palette.accent)) >= 3.0


def test_contrast_of_black_and_white_is_21() -> None:
    """WCAG 2: the largest contrast there is."""
    assert contrast_ratio(rgb("#000000"), rgb("#FFFFFF")) == pytest.approx(21.0)
    assert contrast_ratio(rgb("#777777"), rgb("#777777")) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("size", "scale"),
    [((800, 480), 1.0), ((480, 320), 0.6), ((1280, 720), 1.5), ((720, 1280), 1.5), ((1024, 600), 1.25)],
)
def test_the_design_fits_every_panel(size: tuple[int, int], scale: float) -> None:
    assert scale_for(*size) == pytest.approx(scale)
    assert max(size) >= 800 * scale - 1e-9
    assert min(size) >= 480 * scale - 1e-9


# Long and short side of the picture, mm: 7 inches, as data sheets of such panels have it (from memory).
@pytest.mark.parametrize("size", [(800, 480), (1024, 600), (1280, 720), (720, 1280)])
def test_a_target_is_9_mm_on_a_7_inch_panel(size: tuple[int, int]) -> None:
    long_px, short_px = max(size), min(size)
    assert target_for(*size) >= 9.0 * max(long_px / 154.0, short_px / 86.0)


def test_a_target_uses_what_a_small_panel_has_to_spare() -> None:
    """480 x 320 is higher than the design: there 34 px, not 30.6."""
    assert target_for(480, 320) == pytest.approx(51 * 320 / 480)
    assert target_for(320, 480) == pytest.approx(51 * 480 / 800)

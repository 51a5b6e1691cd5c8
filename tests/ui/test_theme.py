"""Colours that stay apart for colour-blind eyes, and a scale that fits every panel."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from ui.theme import DARK, LIGHT, Palette, Shape, contrast_ratio, rgb, scale_for

# Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15
# (2009), severity 1.0, on linear RGB. Matrices recalled from memory; their rows sum to one, as they must.
PROTANOPIA = np.array(
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
)
DEUTERANOPIA = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)
# sRGB to XYZ, D65 (IEC 61966-2-1).
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.9505, 1.0, 1.0890])
# CIE 1976: a difference of about 2.3 is just noticeable (Mahy, 1994; from memory). Lamps must be far beyond it.
FAR_APART = 25.0


def lab(colour: tuple[float, float, float, float], seen_by: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (CIE 15) of a colour as such eyes see it."""
    linear = np.array([part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour[:3]])
    xyz = TO_XYZ @ np.clip(seen_by @ linear, 0.0, 1.0) / WHITE
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eyes", [np.eye(3), PROTANOPIA, DEUTERANOPIA], ids=["usual", "protanopia", "deuteranopia"])
def test_lamps_stay_apart(palette: Palette, eyes: np.ndarray) -> None:
    np.testing.assert_allclose(eyes.sum(axis=1), 1.0, atol=2e-6)
    fills = [lab(palette.lamp(shape).fill, eyes) for shape in Shape]
    assert min(np.linalg.norm(one - other) for one, other in combinations(fills, 2)) > FAR_APART


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_written_colours_are_readable(palette: Palette) -> None:
    written = [
        (palette.ink, palette.paper),
        (palette.ink, palette.panel),
        (palette.ink, palette.zone),
        (palette.quiet, palette.paper),
        (palette.quiet, palette.panel),
        (palette.accent_ink, palette.accent),
        (palette.fitted, palette.paper),
        (palette.stamp, palette.paper),
    ]
    assert min(contrast_ratio(ink, ground) for ink, ground in written) >= 4.5


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

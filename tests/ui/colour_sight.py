"""Colours as colour-blind eyes see them, and how far apart two colours are for them."""

from __future__ import annotations

import numpy as np

# Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15
# (2009), severity 1.0, on linear RGB. Matrices recalled from memory; their rows sum to one, as they must.
PROTANOPIA = np.array(
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
)
DEUTERANOPIA = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)
USUAL = np.eye(3)
# sRGB to XYZ, D65 (IEC 61966-2-1).
_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = np.array([0.9505, 1.0, 1.0890])


def linear(colour: np.ndarray) -> np.ndarray:
    """sRGB from 0 to 1 as light (IEC 61966-2-1)."""
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def seen(picture: np.ndarray, eyes: np.ndarray) -> np.ndarray:
    """An sRGB picture (height, width, 3) from 0 to 255 as these eyes see it."""
    light = np.clip(linear(picture / 255.0) @ eyes.T, 0.0, 1.0)
    encoded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return (encoded * 255.0).round().astype(np.uint8)


def lab(colour: tuple[float, float, float, float], eyes: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (CIE 15) of a colour as these eyes see it."""
    xyz = _TO_XYZ @ np.clip(eyes @ linear(np.array(colour[:3])), 0.0, 1.0) / _WHITE
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one: np.ndarray, other: np.ndarray) -> float:
    """The difference of two colours in L*a*b* (CIE 142; ISO/CIE 11664-6), 1 is about just noticeable."""
    (l_1, a_1, b_1), (l_2, a_2, b_2) = one, other
    mean_chroma = (np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2
    g = 0.5 * (1 - np.sqrt(mean_chroma**7 / (mean_chroma**7 + 25.0**7)))
    c_1, c_2 = np.hypot(a_1 * (1 + g), b_1), np.hypot(a_2 * (1 + g), b_2)
    h_1, h_2 = (np.degrees(np.arctan2(b, a * (1 + g))) % 360 for a, b in ((a_1, b_1), (a_2, b_2)))
    turn = (h_2 - h_1 + 180) % 360 - 180 if c_1 * c_2 else 0.0
    h = (h_1 + turn / 2) % 360 if c_1 * c_2 else h_1 + h_2
    d_l, d_c, d_h = l_2 - l_1, c_2 - c_1, 2 * np.sqrt(c_1 * c_2) * np.sin(np.radians(turn / 2))
    middle, chroma = (l_1 + l_2) / 2, (c_1 + c_2) / 2
    t = 1 - 0.17 * _cos(h - 30) + 0.24 * _cos(2 * h) + 0.32 * _cos(3 * h + 6) - 0.20 * _cos(4 * h - 63)
    s_l = 1 + 0.015 * (middle - 50) ** 2 / np.sqrt(20 + (middle - 50) ** 2)
    s_c, s_h = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    r_c = 2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    r_t = -r_c * np.sin(np.radians(60 * np.exp(-(((h - 275) / 25) ** 2))))
    return float(np.sqrt((d_l / s_l) ** 2 + (d_c / s_c) ** 2 + (d_h / s_h) ** 2 + r_t * (d_c / s_c) * (d_h / s_h)))


def _cos(angle_deg: float) -> float:
    return float(np.cos(np.radians(angle_deg)))

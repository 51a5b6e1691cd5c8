"""The contrast of two colours by the formula of WCAG 2 (relative luminance)."""

from __future__ import annotations

from ui.pages.theme import Colour


def contrast_ratio(one: Colour, other: Colour) -> float:
    """Contrast of two opaque colours, 1 to 21 (WCAG 2, 1.4.3)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: Colour) -> float:
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour[:3]]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

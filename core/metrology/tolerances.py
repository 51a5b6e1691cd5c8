"""Tolerance limits as numbers: own limits, or looked up by ISO 2768 class."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Symmetric limits (plus and minus); None where there is none.

    `width_edge_mm` for the near and far edges, `height_edge_mm` for left and right; `perpendicularity_mm` limits
    shorter side x cos(corner); `corner_deg` the corner's deviation from 90 degrees; `diagonal_mm` the difference of
    the diagonals. `source` says where they come from, such as 'ISO 2768-mK' or 'own limits'.
    """

    source: str
    width_edge_mm: float | None = None
    height_edge_mm: float | None = None
    perpendicularity_mm: float | None = None
    corner_deg: float | None = None
    diagonal_mm: float | None = None

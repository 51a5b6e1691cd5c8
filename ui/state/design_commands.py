"""What a person can tell the bench of designs: three of its commands."""

from __future__ import annotations

from dataclasses import dataclass

from ui.state.design_state import DesignSource


@dataclass(frozen=True, slots=True, kw_only=True)
class LookForDesigns:
    """Look which designs are on the stick that is plugged in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseDesign:
    """Read this design and correct it by what the coupon shows; nothing is written yet."""

    source: DesignSource


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteDesign:
    """Write the corrected design beside the original."""

"""A corner from two tilts, whatever the gauge's zero and counting."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from firmware_bridge.tilt_corner import TiltCorner, corner_from_tilts


@given(st.floats(0.0, 360.0), st.floats(1.0, 179.0), st.sampled_from([-1, 1]), st.booleans())
def test_the_turn_is_the_corner(zero_deg: float, corner_deg: float, way: int, signed: bool) -> None:
    def counted(degrees: float) -> float:
        return (degrees + 180.0) % 360.0 - 180.0 if signed else degrees % 360.0

    first, second = counted(zero_deg), counted(zero_deg + way * corner_deg)
    assert corner_from_tilts(first, second) == pytest.approx(corner_deg)


def test_there_is_no_corner_before_the_first_edge() -> None:
    tilt = TiltCorner()
    assert tilt.corner(89.6) is None
    tilt.keep_first(-0.4)
    assert tilt.waits_for_second
    assert tilt.corner(89.6) == pytest.approx(90.0)
    tilt.reset()
    assert tilt.corner(89.6) is None

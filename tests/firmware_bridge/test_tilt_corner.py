"""A corner from two tilts, whatever the gauge's zero and counting."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge.decoders.ascii_lines import AngleRange
from firmware_bridge.instrument_settings import GaugeKind, InstrumentSettings, Sends
from firmware_bridge.tilt_corner import TiltCorner, corner_from_tilts
from firmware_bridge.wire_formats import DecoderOptions


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


def gauge(**changes: object) -> InstrumentSettings:
    common = {"name": "gauge", "port": "/dev/x", "format_name": "angle-plain", "quantity": Quantity.ANGLE}
    return InstrumentSettings(**common | changes)  # type: ignore[arg-type]


def test_a_tilt_gauge_that_counts_to_180_is_refused() -> None:
    with pytest.raises(BadInputError, match="0-180"):
        gauge(gauge_kind=GaugeKind.TILT, options=DecoderOptions(angle_range=AngleRange.TO_180))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": ""}, "name and a port"),
        ({"quantity": Quantity.LENGTH}, "does not give"),
        ({"sends": Sends.ASKED}, "cannot be asked"),
        ({"poll_s": 0.1}, "can be polled"),
        ({"format_name": "runes"}, "must be one of"),
    ],
)
def test_settings_that_contradict_themselves_say_so(changes: dict[str, object], words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        gauge(**changes)

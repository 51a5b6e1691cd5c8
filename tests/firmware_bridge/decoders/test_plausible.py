"""What a decoder without checksum still refuses: digits out of keeping, display tests, impossible lengths."""

from __future__ import annotations

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Decoder, Fault
from firmware_bridge.decoders.plausible import DigitsGate, gated
from firmware_bridge.wire_formats import DecoderOptions, wire_format


def typed() -> Decoder:
    return wire_format("typed-length").make_decoder(DecoderOptions())


def shown(items: list[Indication | Fault]) -> list[float | None]:
    return [item.shown if isinstance(item, Indication) else None for item in items]


def test_a_lost_decimal_is_refused_and_the_next_line_believed() -> None:
    assert shown(typed().feed(b"12.345\r12.34\r12.345\r")) == [12.345, None, 12.345]


def test_a_switched_resolution_is_believed_at_the_second_line() -> None:
    assert shown(typed().feed(b"12.345\r12.34\r12.34\r12.35\r")) == [12.345, None, 12.34, 12.35]


def test_each_channel_and_unit_has_its_own_decimals() -> None:
    decoder = wire_format("channels-worded").make_decoder(DecoderOptions())
    lines = b"x\r1 MW+003.4665 inch\r2 MW+120.34 mm\r1 MW+003.4665 inch\r1 MW+088.05 mm\r"
    assert shown(decoder.feed(lines)) == [None, 3.4665, 120.34, 3.4665, 88.05]


def test_the_gate_forgets_rather_than_grow() -> None:
    gate = DigitsGate()
    for channel in range(10_000):
        gate.check(Indication(shown=1.0, unit=Unit.MM, channel=str(channel)), b"")
    assert len(gate._believed) <= DigitsGate.MAX_CHANNELS


@pytest.mark.parametrize(
    ("value", "unit", "digits", "words"),
    [
        (5000.1, Unit.MM, "", "longer"),
        (-196.9, Unit.INCH, "", "longer"),
        (361.0, Unit.DEG, "", "full turn"),
        (888.888, Unit.MM, "888888", "battery"),
    ],
)
def test_what_no_instrument_shows(value: float, unit: Unit, digits: str, words: str) -> None:
    item = gated(value, unit, 1, raw=b"", digits=digits)
    assert isinstance(item, Fault)
    assert words in item.text


def test_minus_nothing_is_nothing() -> None:
    item = gated(-0.0, Unit.MM, 2, raw=b"")
    assert isinstance(item, Indication)
    assert str(item.shown) == "0.0"

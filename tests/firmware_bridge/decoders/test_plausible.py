"""What a decoder without checksum still refuses: digits out of keeping, display tests, impossible lengths."""

from __future__ import annotations

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Decoder, Fault
from firmware_bridge.decoders.plausible import LineStyle, StyleGate, gated
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


PADDED = b"+012.345\r"


@pytest.mark.parametrize(
    ("odd", "lost"),
    [
        (b"+12.345\r", "a digit of a number filled up with zeros"),
        (b"+0012.345\r", "a digit too many"),
        (b"012.345\r", "the sign of an instrument that writes it always"),
        (b"+012.345 MM\r", "a unit where none is written"),
    ],
)
def test_a_line_written_otherwise_is_refused_and_the_next_believed(odd: bytes, lost: str) -> None:
    decoder = wire_format("length-3.3").make_decoder(DecoderOptions())
    assert shown(decoder.feed(PADDED + odd + PADDED)) == [12.345, None, 12.345], lost


def test_a_lost_unit_is_never_millimetres() -> None:
    decoder = wire_format("length-8-unit").make_decoder(DecoderOptions())
    items = decoder.feed(b"+4.7235 in\r+4.7235\r+4.7240 in\r+120.34 mm\r+120.34 mm\r")
    assert shown(items) == [4.7235, None, 4.724, 120.34, 120.34]


@pytest.mark.parametrize(
    "lines",
    [
        b"9.99\r10.01\r-0.50\r120.34\r",  # neither padded nor signed
        b"+  9.99 MM\r+ 10.01 MM\r-  0.50 MM\r+120.34 MM\r",  # padded behind the sign
        b"   9.99\r  10.01\r  -0.50\r 120.34\r",  # padded before it
        b" 009.990\r 010.010\r-000.500\r 120.340\r",  # a blank for plus
        b"009.990\r010.010\r-000.500\r120.340\r",  # nothing for plus
        b"+09.99\r+10.01\r-00.50\r+120.34\r",  # too large for its field
    ],
)
def test_what_one_instrument_writes_is_in_keeping(lines: bytes) -> None:
    decoder = wire_format("length-8-unit").make_decoder(DecoderOptions(streams=False))
    assert shown(decoder.feed(lines)) == [9.99, 10.01, -0.5, 120.34]


def test_the_gate_forgets_rather_than_grow() -> None:
    gate = StyleGate()
    for channel in range(10_000):
        gate.check(Indication(shown=1.0, unit=Unit.MM, channel=str(channel)), b"", LineStyle(decimals=2))
    assert len(gate._believed) <= StyleGate.MAX_CHANNELS


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
    assert words in str(item.text)


def test_minus_nothing_is_nothing() -> None:
    item = gated(-0.0, Unit.MM, 2, raw=b"")
    assert isinstance(item, Indication)
    assert str(item.shown) == "0.0"

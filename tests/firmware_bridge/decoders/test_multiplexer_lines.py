"""Lines with a channel in them."""

from __future__ import annotations

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Decoder, Fault, FaultReason
from firmware_bridge.wire_formats import DecoderOptions, wire_format
from tests.firmware_bridge.decoders.wire_vectors import check_vector

NOISE = b"\x00\xffA\r"
VECTORS = [
    ("channels-lettered", b"01A-001.2340\r", Indication(shown=-1.234, unit=Unit.MM, decimals=4, channel="1")),
    ("channels-lettered", b"12A+120.3400\r", Indication(shown=120.34, unit=Unit.MM, decimals=4, channel="12")),
    ("channels-lettered", b"01A+00001.75\r", Indication(shown=1.75, unit=Unit.MM, decimals=2, channel="1")),
    ("channels-lettered", b"02B+0000.123\r", Indication(shown=0.123, unit=Unit.MM, decimals=3, channel="2")),
    ("channels-worded", b"1 MW+003.4665 inch\r\n", Indication(shown=3.4665, unit=Unit.INCH, decimals=4, channel="1")),
    ("channels-worded", b"12 MW-120.34 mm\r\n", Indication(shown=-120.34, unit=Unit.MM, decimals=2, channel="12")),
    ("channels-behind", b"+ 5.637 MM 2\r\n", Indication(shown=5.637, unit=Unit.MM, decimals=3, channel="2")),
    ("channels-behind", b"4.7235 IN 12 5\r\n", Indication(shown=4.7235, unit=Unit.INCH, decimals=4, channel="12")),
    ("channels-first", b"001, -1.2340, NRM, 04\r\n", Indication(shown=-1.234, unit=Unit.MM, decimals=4, channel="1")),
    ("channels-last", b"001, -1.2340, NRM, 04\r\n", Indication(shown=-1.234, unit=Unit.MM, decimals=4, channel="4")),
]


def maker(name: str) -> Decoder:
    return wire_format(name).make_decoder(DecoderOptions())


@pytest.mark.parametrize(("name", "wire", "expected"), VECTORS)
def test_a_line_in_every_cut(name: str, wire: bytes, expected: Indication) -> None:
    settle = b"tail\r" if name in ("channels-worded", "channels-behind") else b""
    check_vector(lambda: maker(name), wire, [expected], settle=settle, noise=NOISE, trailing=wire[:4])


@pytest.mark.parametrize(("name", "wire", "expected"), VECTORS)
def test_the_tail_of_a_line_is_never_another_channels(name: str, wire: bytes, expected: Indication) -> None:
    for cut in range(1, len(wire)):
        assert not any(isinstance(item, Indication) for item in maker(name).feed(wire[cut:]))


@pytest.mark.parametrize(
    ("name", "wire", "channel", "words"),
    [
        ("channels-lettered", b"912\r", "", "error"),
        ("channels-worded", b"3 TO 999999.99 mm\r\n", "3", "did not answer"),
        ("channels-first", b"001, -1.2340, +NG, 01\r\n", "", "not normal"),
    ],
)
def test_the_multiplexers_own_errors_are_no_readings(name: str, wire: bytes, channel: str, words: str) -> None:
    decoder = maker(name)
    *_, item = decoder.feed(b"tail\r" + wire)
    assert isinstance(item, Fault)
    assert item.reason is FaultReason.INSTRUMENT_ERROR
    assert item.channel == channel
    assert words in str(item.text)

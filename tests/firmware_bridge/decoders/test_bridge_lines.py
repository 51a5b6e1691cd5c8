"""The microcontroller bridge's lines: checksum, sequence, and that no damaged line is ever a reading."""

from __future__ import annotations

import binascii

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.bridge_lines import BridgeDecoder
from firmware_bridge.decoders.fault import Fault, FaultReason
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, bridge_line, spc_bits, spc_digits, xmodem
from tests.firmware_bridge.decoders.wire_vectors import Item, good

SPC = spc_bits(spc_digits(120340, False, 3, False))
BINARY = binary_bits(12034, False, False)


def make() -> BridgeDecoder:
    return BridgeDecoder(BinaryLayout(), proven=True)


def mm(channel: str, decimals: int) -> Indication:
    return Indication(shown=120.34, unit=Unit.MM, decimals=decimals, channel=channel)


def test_the_checksum_is_that_of_the_catalogue() -> None:
    """CRC catalogue: CRC-16/XMODEM of "123456789" is 0x31C3."""
    assert xmodem(b"123456789") == binascii.crc_hqx(b"123456789", 0) == 0x31C3


def test_lines_of_both_kinds_in_every_cut() -> None:
    wire = bridge_line(1, 7, SPC, "S52") + bridge_line(2, 8, BINARY, "B24")
    expected: list[Item] = [mm("1", 3), mm("2", 2)]
    for cut in range(len(wire) + 1):
        decoder = make()
        assert decoder.feed(wire[:cut]) + decoder.feed(wire[cut:]) == expected
    decoder = make()
    assert [item for byte in wire for item in decoder.feed(bytes([byte]))] == expected
    assert good(make().feed(b"\xff\x00CW1,1\r" + wire)) == expected


def test_every_damage_of_one_or_two_bits_is_seen() -> None:
    wire = bridge_line(1, 7, SPC, "S52")
    bits = 8 * (len(wire) - 2)

    def damaged(*places: int) -> bytes:
        line = bytearray(wire)
        for place in places:
            line[place // 8] ^= 1 << place % 8
        return bytes(line)

    seen = 0
    for first in range(bits):
        assert good(make().feed(damaged(first))) == []
        for second in range(first + 1, bits):
            items = make().feed(damaged(first, second))
            assert good(items) == []
            seen += any(isinstance(item, Fault) for item in items)
    assert seen == bits * (bits - 1) // 2


@given(st.binary(max_size=200), st.integers(0, 60))
def test_garbage_around_a_line_costs_at_most_that_line(garbage: bytes, cut: int) -> None:
    wire = bridge_line(1, 7, SPC, "S52")
    decoder = make()
    items = decoder.feed(garbage + wire[:cut] + b"\r") + decoder.feed(wire)
    assert set(map(repr, good(items))) == {repr(mm("1", 3))}


def test_lost_lines_are_counted() -> None:
    decoder = make()
    decoder.feed(bridge_line(1, 65534, BINARY, "B24"))
    fault, item = decoder.feed(bridge_line(1, 1, BINARY, "B24"))
    assert isinstance(fault, Fault)
    assert str(fault.text) == "2 lines of the bridge were lost"
    assert item == mm("1", 2)


def test_a_line_that_comes_twice_counts_once() -> None:
    line = bridge_line(1, 7, BINARY, "B24")
    items = make().feed(line + line)
    assert good(items) == [mm("1", 2)]
    assert isinstance(items[1], Fault)


def test_a_restarted_board_counts_from_zero_without_a_fault() -> None:
    decoder = make()
    assert len(decoder.feed(bridge_line(1, 900, BINARY, "B24") + bridge_line(1, 0, BINARY, "B24"))) == 2
    decoder.reset()
    assert good(decoder.feed(bridge_line(1, 900, BINARY, "B24"))) == [mm("1", 2)]


@pytest.mark.parametrize("kind", ["S52", "B25", "B48", "B24"])
def test_a_frame_of_the_wrong_kind_is_a_fault(kind: str) -> None:
    bits = SPC if kind == "B24" else BINARY
    (item,) = make().feed(bridge_line(1, 7, bits, kind))
    assert isinstance(item, Fault)
    assert item.channel == "1"
    assert item.reason is FaultReason.GARBLED

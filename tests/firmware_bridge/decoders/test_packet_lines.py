"""Packets whose layout is described by hand: worked ones, every place and width, and what is not believed.

The packets are of our own making: no public standard lays out what calipers notify or report.
"""

from __future__ import annotations

import struct

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Decoder, Fault, FaultReason
from firmware_bridge.decoders.packet_lines import MOST_BYTES, PacketLayout, packet_decoder, packet_line, packets_in
from tests.firmware_bridge.decoders.wire_vectors import check_vector

MM, DEG = Unit.MM, Unit.DEG
# Layout, packet, unit, number: little and big end first, one byte to four, below zero, within other bytes.
WORKED = [
    (PacketLayout(), "D2040000", MM, 12.34, 2),
    (PacketLayout(), "2EFBFFFF", MM, -12.34, 2),
    (PacketLayout(first_byte=2, byte_count=2, big_endian=True, same="3A01....00"), "3A0104D200", MM, 12.34, 2),
    (PacketLayout(first_byte=1, byte_count=3, decimals=3), "7F39300055", MM, 12.345, 3),
    (PacketLayout(first_byte=0, byte_count=1, decimals=1, signed=False), "C8", MM, 20.0, 1),
    (PacketLayout(byte_count=2), "2323", DEG, 89.95, 2),
]


@pytest.mark.parametrize(("layout", "packet", "unit", "shown", "decimals"), WORKED)
def test_worked_packets(layout: PacketLayout, packet: str, unit: Unit, shown: float, decimals: int) -> None:
    def make() -> Decoder:
        return packet_decoder(layout, unit, proven=True)

    expected = Indication(shown=shown, unit=unit, decimals=decimals)
    wire = packet_line(bytes.fromhex(packet))
    check_vector(make, wire, [expected], noise=b"\x00\xffz\r", trailing=wire[:1])


@given(
    count=st.integers(-(2**31), 2**31 - 1),
    before=st.binary(max_size=20),
    behind=st.binary(max_size=20),
    big=st.booleans(),
)
def test_round_trip_through_an_encoder_of_others(count: int, before: bytes, behind: bytes, big: bool) -> None:
    """The standard library's struct writes what is read here."""
    packet = before + struct.pack(">i" if big else "<i", count) + behind
    layout = PacketLayout(first_byte=len(before), big_endian=big)
    (item,) = packet_decoder(layout, MM, proven=True).feed(packet_line(packet))
    if abs(count / 100) > 5000.0:
        assert isinstance(item, Fault)
    else:
        assert item == Indication(shown=count / 100, unit=MM, decimals=2)


def test_no_number_is_said_before_it_was_compared_with_the_display() -> None:
    (item,) = packet_decoder(PacketLayout(), MM, proven=False).feed(packet_line(bytes.fromhex("D2040000")))
    assert isinstance(item, Fault)
    assert item.reason is FaultReason.REFUSED
    assert str(item.text).startswith("12.34 mm, if")


@pytest.mark.parametrize(
    ("packet", "words"),
    [
        ("3A0104D201", "byte 5 was 00"),  # a byte that stood still while it was compared: its unit, perhaps
        ("3B0104D200", "byte 1 was 3A"),
        ("3A0104D2", "4 bytes"),
        ("3A0104D20000", "6 bytes"),
    ],
)
def test_another_state_than_when_it_was_compared_is_refused(packet: str, words: str) -> None:
    layout = PacketLayout(first_byte=2, byte_count=2, big_endian=True, same="3A01....00")
    (item,) = packet_decoder(layout, MM, proven=True).feed(packet_line(bytes.fromhex(packet)))
    assert isinstance(item, Fault)
    assert words in str(item.text)


@pytest.mark.parametrize("line", [b"D204000", b"D20400g0", b"d2040000", b"12.34"])
def test_what_is_no_packet_is_a_fault(line: bytes) -> None:
    (item,) = packet_decoder(PacketLayout(), MM, proven=True).feed(line + b"\r")
    assert isinstance(item, Fault)
    assert item.reason is FaultReason.GARBLED


def test_a_packet_longer_than_any_instrument_s_is_refused_whole() -> None:
    decoder = packet_decoder(PacketLayout(), MM, proven=True)
    (item,) = decoder.feed(packet_line(bytes(MOST_BYTES + 1)))
    assert isinstance(item, Fault)
    assert item.reason is FaultReason.OVERFLOW
    assert decoder.feed(packet_line(bytes.fromhex("D2040000"))) == [Indication(shown=12.34, unit=MM, decimals=2)]


@pytest.mark.parametrize(
    "fields", [{"first_byte": 64}, {"byte_count": 0}, {"byte_count": 5}, {"decimals": 6}, {"same": "3A."}]
)
def test_layouts_that_cannot_be_are_refused(fields: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"byte|decimals|digits"):
        PacketLayout(**fields)  # type: ignore[arg-type]


def test_packets_are_found_in_what_was_heard() -> None:
    assert packets_in(b"zz\rD204\r0000\r\xff\r01") == (b"\xd2\x04", b"\x00\x00")

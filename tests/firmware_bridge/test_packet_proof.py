"""Layouts of packets, recognised from three openings of the jaws and what the display shows there."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Fault
from firmware_bridge.decoders.packet_lines import read_packet
from firmware_bridge.packet_proof import Opening, proven_packet_layout
from tests.examples import some_of_all

DISPLAYS = (0.0, 10.02, -10.01)


def in_last_digits(number: float, decimals: int) -> int:
    return round(number * 10**decimals)


def packet(number: float, *, decimals: int, width: int, big: bool, head: bytes, tail: bytes) -> bytes:
    count = in_last_digits(number, decimals)
    return head + count.to_bytes(width, "big" if big else "little", signed=True) + tail


def openings(displays: tuple[float, ...] = DISPLAYS, **laid_out: object) -> list[Opening]:
    """A few packets at each, the last digit flickering."""
    return [
        Opening(
            packets=tuple(packet(display + wobble, **laid_out) for wobble in (0.0, 0.01, 0.0)),  # type: ignore[arg-type]
            display=display,
        )
        for display in displays
    ]


@some_of_all(60)
@given(
    decimals=st.sampled_from((2, 3)),
    width=st.sampled_from((2, 3, 4)),
    big=st.booleans(),
    head=st.binary(max_size=4),
    tail=st.binary(max_size=4),
    later=st.floats(-300.0, 300.0),
)
def test_what_is_proven_reads_every_later_number_right(
    decimals: int, width: int, big: bool, head: bytes, tail: bytes, later: float
) -> None:
    """And where neighbouring bytes leave it open, nothing is proven: then a further opening is asked for."""
    if width == 2 and decimals == 3 and abs(later) > 32.0:
        later /= 10.0
    laid_out = {"decimals": decimals, "width": width, "big": big, "head": head, "tail": tail}
    layout = proven_packet_layout(openings(**laid_out), Unit.MM)
    if layout is not None:
        item = read_packet(packet(later, **laid_out), layout, Unit.MM)  # type: ignore[arg-type]
        assert isinstance(item, Indication)
        assert in_last_digits(item.value, decimals) == in_last_digits(later, decimals)


@pytest.mark.parametrize("width", [2, 3, 4])
@pytest.mark.parametrize("big", [False, True])
def test_an_instrument_between_other_bytes_is_recognised(width: int, big: bool) -> None:
    layout = proven_packet_layout(
        openings(decimals=2, width=width, big=big, head=b"\x3a\x01", tail=b"\x55\x10"), Unit.MM
    )
    assert layout is not None
    assert (layout.first_byte, layout.byte_count, layout.big_endian, layout.decimals) == (2, width, big, 2)
    assert layout.same == "3A01" + ".." * width + "5510"


def test_a_byte_that_changes_while_it_is_compared_may_change_later() -> None:
    heard = openings(decimals=2, width=4, big=False, head=b"\x01", tail=b"")
    counted = [
        Opening(packets=tuple(one + bytes([n]) for n, one in enumerate(each.packets)), display=each.display)
        for each in heard
    ]
    layout = proven_packet_layout(counted, Unit.MM)
    assert layout is not None
    assert layout.same == "01" + ".." * 5
    # A byte that stood still is another state: a unit that was switched must not pass.
    assert isinstance(read_packet(bytes.fromhex("02D204000009"), layout, Unit.MM), Fault)
    assert isinstance(read_packet(bytes.fromhex("01D204000009"), layout, Unit.MM), Indication)


@pytest.mark.parametrize("displays", [(0.0, 10.02), (0.0, 10.02, 5.0), (0.0, -10.0), (1.0, -1.0), ()], ids=str)
def test_openings_that_cannot_tell_prove_nothing(displays: tuple[float, ...]) -> None:
    heard = openings(displays, decimals=2, width=4, big=False, head=b"", tail=b"\x00")
    assert proven_packet_layout(heard, Unit.MM) is None


def test_another_display_or_packets_of_two_lengths_prove_nothing() -> None:
    heard = openings(decimals=2, width=2, big=False, head=b"", tail=b"\x07")
    wrong = [Opening(packets=one.packets, display=one.display + 0.4) for one in heard]
    assert proven_packet_layout(wrong, Unit.MM) is None
    two = [*heard[:2], Opening(packets=(b"\x00",), display=-10.0)]
    assert proven_packet_layout(two, Unit.MM) is None
    assert proven_packet_layout([*heard, Opening(packets=(), display=3.0)], Unit.MM) is None

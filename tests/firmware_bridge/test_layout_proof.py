"""Layouts of binary frames, recognised from two openings of the jaws and what the display shows there."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication
from firmware_bridge.decoders.binary_24bit import LAYOUTS, read_word
from firmware_bridge.layout_proof import Frame, frames_in, proven_layouts, the_proven_one
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, bridge_line, spc_bits, spc_digits


def digits_bits(hundredths: int) -> str:
    return "".join(f"{int(digit):04b}"[::-1] for digit in reversed(f"{hundredths:06d}")) + "0010"


def groups(first: int, second: int) -> str:
    return "".join(f"{group % 2**24:024b}"[::-1] for group in (first, second))


def inches(hundredths: int, per_inch: int) -> int:
    return round(hundredths / 2540 * per_inch)


# What each maker's instrument sends for so many hundredths of a millimetre (written from the descriptions).
SENDS = {
    "plain": lambda n: binary_bits(abs(n), n < 0, False),
    "sign-21": lambda n: binary_bits(abs(n), n < 0, False, sign_bit=21),
    "leading-one": lambda n: binary_bits(abs(n), n < 0, False, leading_one=True),
    "leading-one-inside": lambda n: "1" + binary_bits(abs(n), n < 0, False)[:23],
    "no-unit": lambda n: binary_bits(abs(n), n < 0, False),
    "micrometres": lambda n: binary_bits(abs(n) * 10, n < 0, False),
    "two-groups": lambda n: groups(inches(n, 20480) + 70_000, inches(n, 20480)),
    "two-groups-swapped": lambda n: groups(inches(n, 20480), inches(n, 20480) + 70_000),
    "seven-digits": digits_bits,
    "host-clocked": lambda n: f"{inches(n, 2560) % 2**21:021b}"[::-1],
}


def heard(name: str, hundredths: int) -> bytes:
    """Some frames, the last digit flickering."""
    return b"".join(SENDS[name](hundredths + wobble).encode() + b"\r\n" for wobble in (0, 1, 0, 0, 1))


def test_every_layout_has_an_instrument_to_be_held_against() -> None:
    assert set(SENDS) == set(LAYOUTS)


@pytest.mark.parametrize("name", LAYOUTS)
@given(opened=st.integers(500, 2000))
def test_closing_the_jaws_and_opening_them_proves_a_layout_that_reads_right_ever_after(name: str, opened: int) -> None:
    closed_frames, open_frames = frames_in(heard(name, 0)), frames_in(heard(name, opened))
    proven = the_proven_one(proven_layouts(closed_frames, open_frames, 0.0, opened / 100))
    assert proven is not None
    for later in (12034, 3, *(() if name == "seven-digits" else (-771,))):
        (frame,) = frames_in(SENDS[name](later).encode() + b"\r\n")
        item = read_word(frame.word, frame.bits, LAYOUTS[proven])
        assert not isinstance(item, Indication) or item.value == pytest.approx(later / 100, abs=0.006)


def test_the_frame_that_reads_double_is_told_from_the_one_it_is() -> None:
    closed, opened = frames_in(heard("leading-one-inside", 0)), frames_in(heard("leading-one-inside", 1000))
    assert proven_layouts(closed, opened, 0.0, 10.0) == ("leading-one-inside",)


def test_groups_that_cannot_be_told_apart_yet_prove_nothing() -> None:
    """Zeroed where it was switched on: absolute and relative are the same until it is zeroed elsewhere."""
    closed, opened = (frames_in(groups(n, n).encode() + b"\r\n") for n in (0, inches(1000, 20480)))
    remaining = proven_layouts(closed, opened, 0.0, 10.0)
    assert remaining == ("two-groups", "two-groups-swapped")
    assert the_proven_one(remaining) is None


def test_an_opening_too_small_proves_nothing() -> None:
    closed, opened = frames_in(heard("plain", 0)), frames_in(heard("plain", 100))
    assert proven_layouts(closed, opened, 0.0, 1.0) == ()
    assert the_proven_one(()) is None


def test_frames_of_the_bridge_are_found_among_other_lines() -> None:
    bits = binary_bits(1234, False, False)
    data = bridge_line(2, 7, bits, "B24") + bridge_line(1, 8, spc_bits(spc_digits(1, False, 2, False)), "S52")
    damaged = bridge_line(2, 9, bits, "B24").replace(b"B24", b"B25")
    assert frames_in(b"noise\r\n" + b"7" * 500 + b"\r" + data + damaged) == (
        Frame(word=int(bits[::-1], 2), bits=24, channel="2"),
    )

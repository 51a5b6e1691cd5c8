"""52-bit SPC and 24-bit binary frames: round trips through an independent encoder, and refusals."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.binary_24bit import LAYOUTS, BinaryKind, BinaryLayout, read_word
from firmware_bridge.decoders.bit_lines import binary_24bit_decoder, spc_52bit_decoder
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.spc_52bit import read_digits
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, spc_bits, spc_digits
from tests.firmware_bridge.decoders.wire_vectors import check_vector

NOISE = b"\x00\xff1F\r"


def mm(shown: float, decimals: int) -> Indication:
    return Indication(shown=shown, unit=Unit.MM, decimals=decimals)


# Worked frames of the output; those of public manuals are in test_lines_of_manuals.py.
WORKED = [
    (b"FFFF000012330", mm(0.123, 3)),
    (b"FFFF801234530", mm(-12.345, 3)),
    (b"FFFF021076540", mm(21.0765, 4)),
    # Unit and judgement of a gauge with limits of its own: above, in and below tolerance.
    (b"FFFF001234532", mm(12.345, 3)),
    (b"FFFF001234533", mm(12.345, 3)),
    (b"FFFF801234534", mm(-12.345, 3)),
    (b"FFFF004860045", Indication(shown=4.86, unit=Unit.INCH, decimals=4)),
    (b"FFFF004860046", Indication(shown=4.86, unit=Unit.INCH, decimals=4)),
    (b"FFFF804860047", Indication(shown=-4.86, unit=Unit.INCH, decimals=4)),
    # The later version of the output, with eight digits; the first as printed in a height gauge's manual.
    (b"8F00000012551", Indication(shown=0.00125, unit=Unit.INCH, decimals=5)),
    (b"8F01002345640", mm(102.3456, 4)),
]


@pytest.mark.parametrize(("digits", "expected"), WORKED)
def test_worked_52_bit_frames(digits: bytes, expected: Indication) -> None:
    check_vector(spc_52bit_decoder, digits + b"\r\n", [expected], noise=NOISE, trailing=digits[:12])
    bits = spc_bits([int(chr(digit), 16) for digit in digits]).encode()
    check_vector(spc_52bit_decoder, bits + b"\n", [expected], noise=NOISE, trailing=bits[:51])


def test_the_first_worked_frame_on_the_wire() -> None:
    wire = "1111 1111 1111 1111 0000 0000 0000 0000 1000 0100 1100 1100 0000".replace(" ", "")
    assert spc_bits([int(digit, 16) for digit in "FFFF000012330"]) == wire
    assert spc_52bit_decoder().feed(wire.encode() + b"\r") == [mm(0.123, 3)]


@given(st.integers(0, 999_999), st.booleans(), st.integers(0, 5), st.booleans())
def test_52_bit_round_trip(count: int, negative: bool, decimals: int, inch: bool) -> None:
    digits = spc_digits(count, negative, decimals, inch)
    item = read_digits(digits)
    shown = (-1 if negative else 1) * count / 10**decimals
    too_long = abs(shown) * (25.4 if inch else 1.0) > 5000.0
    if count == 888_888 or too_long:
        assert isinstance(item, Fault)
        assert item.reason is FaultReason.REFUSED
    else:
        assert item == Indication(shown=shown, unit=Unit.INCH if inch else Unit.MM, decimals=decimals)
    assert spc_52bit_decoder().feed(spc_bits(digits).encode() + b"\r") == [item]


@given(st.lists(st.integers(0, 15), min_size=13, max_size=13))
def test_any_13_digits_give_an_indication_or_a_fault_and_no_more(digits: list[int]) -> None:
    item = read_digits(digits)
    well_formed = (
        (digits[:4] == [15] * 4 or (digits[:2] == [8, 15] and max(digits[2:4]) < 10))
        and digits[4] in (0, 8)
        and max(digits[5:11]) < 10
        and digits[11] < 6
        and digits[12] < 8
    )
    assert well_formed or isinstance(item, Fault)


@pytest.mark.parametrize(
    ("digits", "words"),
    [
        ("EFFF000012330", "four digits F"),
        ("FFFF400012330", "sign digit 4"),
        ("FFFF0000A2330", "above 9"),
        ("FFFF000012360", "decimals"),
        ("FFFF000012338", "unit digit 8"),
        ("FFFF088888820", "battery"),
        ("FFFF99999901", "no frame"),
    ],
)
def test_52_bit_frames_that_are_refused(digits: str, words: str) -> None:
    (item,) = spc_52bit_decoder().feed(digits.encode() + b"\r")
    assert isinstance(item, Fault)
    assert words in str(item.text)


SIGN_AND_MAGNITUDE = [
    BinaryLayout(),
    BinaryLayout(sign_bit=21),
    LAYOUTS["leading-one"],
    BinaryLayout(unit_flag=False),
    BinaryLayout(leading_one=True, bits=25, sign_bit=21, unit_flag=False),
]


@pytest.mark.parametrize("layout", SIGN_AND_MAGNITUDE)
@given(count=st.integers(0, 2**20 - 1), negative=st.booleans(), inch=st.booleans())
def test_24_bit_round_trip(layout: BinaryLayout, count: int, negative: bool, inch: bool) -> None:
    inch = inch and layout.unit_flag
    bits = binary_bits(count, negative, inch, layout.sign_bit, layout.leading_one)
    (item,) = binary_24bit_decoder(layout, proven=True).feed(bits.encode() + b"\r")
    shown = (-1 if negative else 1) * count / (2000 if inch else 100)
    if abs(shown) * (25.4 if inch else 1.0) > 5000.0:
        assert isinstance(item, Fault)
    else:
        assert item == Indication(shown=shown, unit=Unit.INCH if inch else Unit.MM, decimals=4 if inch else 2)


@pytest.mark.parametrize(
    ("bits", "expected"),
    [
        (binary_bits(12034, False, False), mm(120.34, 2)),
        (binary_bits(1, True, False), mm(-0.01, 2)),
        (binary_bits(9449, False, True), Indication(shown=4.7245, unit=Unit.INCH, decimals=4)),
    ],
)
def test_24_bit_frames_in_every_cut(bits: str, expected: Indication) -> None:
    def make() -> object:
        return binary_24bit_decoder(BinaryLayout(), proven=True)

    check_vector(make, bits.encode() + b"\r\n", [expected], noise=NOISE, trailing=bits.encode()[:20])  # type: ignore[arg-type]


def test_a_frame_of_another_layout_is_refused() -> None:
    """Sign at bit 21 read as sign at bit 20: the stray bit gives it away."""
    (item,) = binary_24bit_decoder(BinaryLayout(), proven=True).feed(
        binary_bits(500, True, False, sign_bit=21).encode() + b"\r"
    )
    assert isinstance(item, Fault)
    (item,) = binary_24bit_decoder(BinaryLayout(), proven=True).feed(
        binary_bits(500, True, False, leading_one=True).encode() + b"\r"
    )
    assert isinstance(item, Fault)


@pytest.mark.parametrize("counts", [0, 20480, -20480, 8388607, -1])
def test_two_groups_show_the_relative_one(counts: int) -> None:
    absolute, relative = 77777, counts % 2**24
    item = read_word(absolute | relative << 24, 48, LAYOUTS["two-groups"])
    mm_shown = round(counts * 25.4 / 20480, 3)
    if abs(mm_shown) > 5000.0:
        assert isinstance(item, Fault)
    else:
        assert isinstance(item, Indication)
        assert item.value == pytest.approx(mm_shown)


def test_layouts_that_contradict_themselves_are_refused() -> None:
    with pytest.raises(ValueError, match="20 or 21"):
        BinaryLayout(sign_bit=19)
    with pytest.raises(ValueError, match="two-groups"):
        BinaryLayout(kind=BinaryKind.TWO_GROUPS, leading_one=True)
    with pytest.raises(ValueError, match="24, or 25"):
        BinaryLayout(bits=25)


@pytest.mark.parametrize("name", LAYOUTS)
@given(count=st.integers(100, 2**20 - 1), negative=st.booleans())
def test_no_layout_says_a_number_before_it_is_proven(name: str, count: int, negative: bool) -> None:
    for bits in (binary_bits(count, negative, False), "1" + binary_bits(count, negative, False)[:23]):
        items = binary_24bit_decoder(LAYOUTS[name], proven=False).feed(bits.encode() + b"\r")
        assert all(isinstance(item, Fault) for item in items)


def test_what_an_unproven_layout_would_read_is_said_with_what_to_do() -> None:
    bits = "1" + binary_bits(1234, False, False)[:23]
    (item,) = binary_24bit_decoder(BinaryLayout(), proven=False).feed(bits.encode() + b"\r")
    assert isinstance(item, Fault)
    assert str(item.text).startswith("24.69 mm, if")
    assert "display" in str(item.text)

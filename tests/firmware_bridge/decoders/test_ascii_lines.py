"""ASCII line formats, each vector in every cut. Layouts from instruments' public documentation."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, strategies as st

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders import ascii_lines, multiplexer_lines
from firmware_bridge.decoders.ascii_lines import AngleRange, Axis, LineGrammar
from firmware_bridge.decoders.fault import Decoder, Fault, FaultReason
from firmware_bridge.wire_formats import DecoderOptions, wire_format
from tests.firmware_bridge.decoders.wire_vectors import check_vector, good

REPORTING = {
    name: grammar
    for module in (ascii_lines, multiplexer_lines)
    for name, grammar in vars(module).items()
    if isinstance(grammar, LineGrammar) and grammar.errors
}
NOISE = b"\x00\xff\x13k\r"


def mm(shown: float, decimals: int = 3) -> Indication:
    return Indication(shown=shown, unit=Unit.MM, decimals=decimals)


def inch(shown: float, decimals: int) -> Indication:
    return Indication(shown=shown, unit=Unit.INCH, decimals=decimals)


def deg(shown: float, decimals: int) -> Indication:
    return Indication(shown=shown, unit=Unit.DEG, decimals=decimals)


VECTORS = [
    ("length-3.3", b"+012.345\r", mm(12.345)),
    ("length-3.3", b"-000.010\r", mm(-0.01)),
    ("length-3.3", b" 120.340\r", mm(120.34)),
    ("length-3.3", b"+0123.456\r", mm(123.456)),
    ("length-3.3", b"-0000.001\r", mm(-0.001)),
    ("length-8-unit", b"+  12.345 MM\r\n", mm(12.345)),
    ("length-8-unit", b"-   0.02 ,MM\r\n", mm(-0.02, 2)),
    ("length-8-unit", b"+  4.7235,IN\r\n", inch(4.7235, 4)),
    ("angle-x", b"X=+00.430\r\n", deg(0.43, 3)),
    ("angle-x", b"X=-90.400\r\n", deg(-90.4, 3)),
    ("angle-x", b"X=+179.950\r\n", deg(179.95, 3)),
    ("angle-lettered", b"APD  89.95\r", deg(89.95, 2)),
    ("angle-lettered", b"AHD-0.4\r", deg(-0.4, 1)),
    ("angle-plain", b"89,99\r\n", deg(89.99, 2)),
    ("angle-plain", b"-0.43\r\n", deg(-0.43, 2)),
    ("angle-dms", b"89\xb059'30\"\r\n", deg(89 + 59 / 60 + 30 / 3600, 4)),
    ("angle-dms", b"-0\xc2\xb030'\r\n", deg(-0.5, 2)),
    ("angle-dms", b"90d 6' 0\"\r\n", deg(90.1, 4)),
]


def maker(name: str, options: DecoderOptions | None = None) -> Decoder:
    return wire_format(name).make_decoder(options or DecoderOptions())


def settled(name: str) -> Decoder:
    decoder = maker(name)
    decoder.feed(b"tail\r")
    return decoder


@pytest.mark.parametrize(("name", "wire", "expected"), VECTORS)
def test_a_line_in_every_cut(name: str, wire: bytes, expected: Indication) -> None:
    check_vector(lambda: maker(name), wire, [expected], settle=b"tail\r", noise=NOISE, trailing=wire[:3])


@pytest.mark.parametrize(("name", "wire", "expected"), VECTORS)
def test_the_tail_of_a_line_cut_in_two_is_never_believed(name: str, wire: bytes, expected: Indication) -> None:
    """The cable is plugged in, or the port opened, in the middle of a line."""
    for cut in range(1, len(wire)):
        assert [item for item in maker(name).feed(wire[cut:]) if isinstance(item, Indication)] == [], wire[cut:]


# A line of variable width cannot show a lost digit; there range, steady hold and repeats must.
FIXED_WIDTH = [
    (b"+012.345\r", "zeros in front"),
    (b"-000.010\r", "zeros in front, negative"),
    (b"+0123.456\r", "four of them"),
    (b"+  12.345 MM\r\n", "blanks in front"),
    (b"+  4.7235,IN\r\n", "blanks in front, inches"),
]


@pytest.mark.parametrize(("wire", "padding"), FIXED_WIDTH)
def test_a_lost_byte_in_a_line_of_fixed_width_is_a_fault_once_the_width_is_known(wire: bytes, padding: str) -> None:
    body = wire.rstrip()
    known = wire if wire.startswith(b"+") else b"+000.010\r"
    for lost in range(len(body)):
        decoder = maker("length-8-unit")
        decoder.feed(known)
        damaged = body[:lost] + body[lost + 1 :]
        (item,) = decoder.feed(damaged + b"\r")
        # The blank between number and unit carries nothing.
        assert isinstance(item, Fault) or item.value == good(decoder.feed(wire))[0].value, damaged


def test_the_first_line_of_an_instrument_that_speaks_at_its_button_is_believed() -> None:
    """Nothing is lost: the cable does not come up in the middle of a line that nobody sent."""
    assert good(maker("length-8-unit", DecoderOptions(streams=False)).feed(b"120.34\r")) == [mm(120.34, 2)]
    assert good(maker("length-8-unit", DecoderOptions(streams=True)).feed(b"120.34\r")) == []


def test_only_the_axis_that_is_set_is_read_and_the_other_is_no_fault() -> None:
    lines = b"X=+00.43\r\nY=-00.08\r\n" * 3
    assert maker("angle-x").feed(lines) == [deg(0.43, 2)] * 3
    other = maker("angle-x", DecoderOptions(axis=Axis.Y))
    first, *rest = other.feed(lines)
    assert isinstance(first, Fault)
    assert "Y is set" in str(first.text)
    assert rest == [deg(-0.08, 2)] * 3


REFUSED = [
    ("length-3.3", b"ERR2\r", FaultReason.INSTRUMENT_ERROR, "reports an error"),
    ("length-3.3", b"OR\r", FaultReason.INSTRUMENT_ERROR, "out of range"),
    ("length-3.3", b"+888.888\r", FaultReason.REFUSED, "battery"),
    ("length-3.3", b"+123456.7\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"+12345\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"1,234.5\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"12.34 kg\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"12.34.5\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"ERR23\r", FaultReason.INSTRUMENT_ERROR, "reports an error"),
    ("length-3.3", b"WHO ARE YOU\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"+9999.999\r", FaultReason.REFUSED, "longer than any caliper"),
    ("length-8-unit", b"+ 1 2.345 MM\r", FaultReason.GARBLED, "format"),
    ("length-8-unit", b"+         MM\r", FaultReason.GARBLED, "format"),
    ("angle-x", b"X=+200.000\r", FaultReason.REFUSED, "outside the range"),
    ("angle-lettered", b"APG 99.94\r", FaultReason.REFUSED, "gon"),
    ("angle-lettered", b"AHM  1.2\r", FaultReason.REFUSED, "mil"),
    ("angle-lettered", b"AH% 0.1\r", FaultReason.REFUSED, "percent"),
    ("angle-dms", b"89\xb061'00\"\r", FaultReason.GARBLED, "sixty"),
    ("angle-plain", b"99,99 gon\r", FaultReason.REFUSED, "gon"),
    ("angle-plain", b"nan\r", FaultReason.GARBLED, "format"),
    ("length-3.3", b"0" * 200 + b"\r", FaultReason.OVERFLOW, "without the end of a line"),
]


@pytest.mark.parametrize(("name", "wire", "reason", "words"), REFUSED)
def test_what_is_no_reading_is_a_fault_with_a_sentence(name: str, wire: bytes, reason: FaultReason, words: str) -> None:
    (item,) = settled(name).feed(wire)
    assert isinstance(item, Fault)
    assert item.reason is reason
    assert words in str(item.text)


def test_an_honest_88_88_is_a_reading() -> None:
    (item,) = maker("length-8-unit").feed(b"+   88.88 MM\r\n")
    assert item == mm(88.88, 2)


@pytest.mark.parametrize(
    ("angle_range", "wire", "shown"),
    [
        (AngleRange.TO_360, b"359,99\r", 359.99),
        (AngleRange.TO_180, b"180,00\r", 180.0),
        (AngleRange.TO_180, b"180,01\r", None),
        (AngleRange.TO_360, b"-0,01\r", None),
        (AngleRange.SIGNED_180, b"359,99\r", None),
    ],
)
def test_an_angle_outside_the_instruments_range_is_refused(
    angle_range: AngleRange, wire: bytes, shown: float | None
) -> None:
    decoder = maker("angle-plain", DecoderOptions(angle_range=angle_range))
    decoder.feed(b"\r\rtail\r")
    (item,) = decoder.feed(wire)
    assert (item.shown if isinstance(item, Indication) else None) == shown


def test_a_line_without_unit_is_in_the_unit_of_the_settings() -> None:
    (item,) = maker("length-3.3", DecoderOptions(unit=Unit.INCH)).feed(b"+0004.724\r")
    assert isinstance(item, Indication)
    assert math.isclose(item.value, 4.724 * 25.4)


def test_a_length_line_cannot_be_set_to_degrees() -> None:
    with pytest.raises(ValueError, match="cannot be in deg"):
        maker("length-3.3", DecoderOptions(unit=Unit.DEG))


def test_after_a_too_long_line_the_next_is_read() -> None:
    decoder = maker("length-3.3")
    items = [item for piece in (b"7" * 500, b"7" * 500, b"\r", b"+012.345\r") for item in decoder.feed(piece)]
    assert [type(item) for item in items] == [Fault, Indication]


@pytest.mark.parametrize("name", REPORTING)
@given(data=st.data())
def test_a_line_is_a_number_or_reports_an_error_never_both(name: str, data: st.DataObject) -> None:
    """So it does not matter which is looked for first."""
    errors = [pattern for pattern, _ in REPORTING[name].errors]
    pattern = data.draw(st.sampled_from([REPORTING[name].pattern, *errors]))
    line = data.draw(st.from_regex(pattern, fullmatch=True))
    assert (re.fullmatch(REPORTING[name].pattern, line) is None) is (pattern in errors)
    assert any(re.fullmatch(error, line) for error in errors) is (pattern in errors)

"""Lines as public manuals, drivers and captures show them, each whole, byte by byte, in two pieces and after noise.

The source stands beside each in words; makers are not named. P: read in a public copy; R: the layout is known from the
format's description, the digits are ours; M: from memory.
"""

from __future__ import annotations

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Decoder, Fault, FaultReason
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions, wire_format
from tests.firmware_bridge.decoders.wire_vectors import check_vector

INDICATOR = "P: interface page of a serial and USB indicator: sign, eight characters with blanks, blank and comma, unit"
OPTICAL = "P: manual of calipers on an optical cable: sign or blank, digits by unit and resolution, CR; 4800 7E2"
OUT_OF_RANGE = "R: manual of a comparator: sign, 4.3 digits, CR, or the letters OR"
TOLERANCE = "P: manual of a compact column display: sign, digits, unit, then < = > for tolerance and for warning limits"
HEIGHT = "P: manual of a height gauge: sign directly before a right-aligned value, a blank for plus"
PANEL = "P: manual of a panel meter: sign, value with a point even behind the last digit, CR"
KEYS = "P: description of an interface that types: value, or value and unit, then a key"
SKETCH = "P: published sketches of microcontrollers: value with two places, a blank, mm or in"
TILT = "P: data sheet of an inclinometer: X= or Y=, sign, 2.3 digits, CR LF; 9600 8E1"
TILT_COARSE = "P: data sheet of its coarser sister: two places; 9600 8N1"
TURN = "P: interface note of a level: 0 to 360 with a decimal comma"
LEVEL = "R: manual of an electronic level: A, range letter, unit letter, value, CR"
COLUMN_ANGLE = "P: manual of the same column display, angle with colons"
MUX_LETTER = "R: manual of a multiplexer: channel, letter, signed value, CR"
MUX_FLOAT = "R: manuals of later multiplexers and cables: the same with floating point"
MUX_WORD = "R: manual of a multiplexer: channel, MW, signed value, unit in words"
MUX_STATUS = "R: manual of a gauging interface: line number, value, NRM, channel"

MM, INCH, DEG = Unit.MM, Unit.INCH, Unit.DEG
LINES = [
    (INDICATOR, "length-8-unit", b"+  2.1380 ,IN\r\n", 2.138, INCH, 4),
    (INDICATOR, "length-8-unit", b"+  2.1380, MM\r\n", 2.138, MM, 4),
    (INDICATOR, "length-8-unit", b"-  12.345 ,MM\r\n", -12.345, MM, 3),
    (INDICATOR, "length-8-unit", b"+    9.50 ,MM\r\n", 9.5, MM, 2),
    (OPTICAL, "length-3.3", b"+012.345\r", 12.345, MM, 3),
    (OPTICAL, "length-3.3", b" 120.34\r", 120.34, MM, 2),
    (OPTICAL, "length-3.3", b"-09.99\r", -9.99, MM, 2),
    (OPTICAL, "length-3.3", b"+0.4860\r", 0.486, MM, 4),
    (OPTICAL, "length-3.3", b"     0.00\r", 0.0, MM, 2),
    (OUT_OF_RANGE, "length-3.3", b"+0123.456\r", 123.456, MM, 3),
    (OUT_OF_RANGE, "length-3.3", b"-0000.001\r", -0.001, MM, 3),
    (TOLERANCE, "length-3.3", b"+028.35 mm\r", 28.35, MM, 2),
    (TOLERANCE, "length-3.3", b"+028.35 mm <\r", 28.35, MM, 2),
    (TOLERANCE, "length-3.3", b"+028.35 mm =\r", 28.35, MM, 2),
    (TOLERANCE, "length-3.3", b"-000.02 mm > =\r", -0.02, MM, 2),
    (TOLERANCE, "length-3.3", b"+001.1025 inch =\r", 1.1025, INCH, 4),
    ("R: capture of a caliper's cable: value, blank, unit in capitals", "length-8-unit", b"28.35 MM\r\n", 28.35, MM, 2),
    (
        "M: capture of a caliper's cable, display held: H behind the value",
        "length-8-unit",
        b"28.35 H\r\n",
        28.35,
        MM,
        2,
    ),
    (HEIGHT, "length-8-unit", b"   -12.3450\r", -12.345, MM, 4),
    (HEIGHT, "length-8-unit", b"   119.9800 mm\r", 119.98, MM, 4),
    (PANEL, "length-8-unit", b"+999.99\r", 999.99, MM, 2),
    (PANEL, "length-8-unit", b"+00120.\r", 120.0, MM, 0),
    (SKETCH, "length-8-unit", b"12.34 mm\r\n", 12.34, MM, 2),
    (SKETCH, "length-8-unit", b"0.49 in\r\n", 0.49, INCH, 2),
    (
        "M: semicolon before the unit",
        "length-8-unit",
        b"40.02;mm\r\n",
        40.02,
        MM,
        2,
    ),
    ("M: tab before the unit, decimal comma", "length-8-unit", b"40,02\tmm\r\n", 40.02, MM, 2),
    (KEYS, "typed-length", b"1.23 mm\n", 1.23, MM, 2),
    (KEYS, "typed-length", b"120.34\t", 120.34, MM, 2),
    (KEYS, "typed-length", b"-0,01\n", -0.01, MM, 2),
    (KEYS, "typed-length", b"4.7375in\n", 4.7375, INCH, 4),
    (KEYS, "typed-angle", b"89,95\n", 89.95, DEG, 2),
    (TILT, "angle-x", b"X=+00.430\r\n", 0.43, DEG, 3),
    (TILT, "angle-x", b"X=-00.084\r\n", -0.084, DEG, 3),
    (TILT_COARSE, "angle-x", b"X=+00.43\r\n", 0.43, DEG, 2),
    (TURN, "angle-plain", b"+89,99\r\n", 89.99, DEG, 2),
    (TURN, "angle-plain", b"179,99\r\n", 179.99, DEG, 2),
    (
        "M: protractor, value and degree sign",
        "angle-plain",
        b"89.95\xb0\r\n",
        89.95,
        DEG,
        2,
    ),
    (LEVEL, "angle-lettered", b"APD  89.95\r", 89.95, DEG, 2),
    (LEVEL, "angle-lettered", b"AHD-0.4\r", -0.4, DEG, 1),
    (COLUMN_ANGLE, "angle-dms", b"+089:59:30 dms\r", 89 + 59 / 60 + 30 / 3600, DEG, 4),
    (COLUMN_ANGLE, "angle-dms", b"-000:30:00 dms =\r", -0.5, DEG, 4),
    ("M: bevel protractor, degrees and minutes", "angle-dms", b"89\xb059'\r\n", 89 + 59 / 60, DEG, 2),
]
CHANNEL_LINES = [
    (MUX_LETTER, "channels-lettered", b"01A-001.2340\r", -1.234, MM, 4, "1"),
    (MUX_FLOAT, "channels-lettered", b"01A+00001.75\r", 1.75, MM, 2, "1"),
    (MUX_FLOAT, "channels-lettered", b"01A+0000.123\r", 0.123, MM, 3, "1"),
    (MUX_FLOAT, "channels-lettered", b"03A+000.48600\r", 0.486, MM, 5, "3"),
    (MUX_WORD, "channels-worded", b"1 MW+003.4665 inch\r\n", 3.4665, INCH, 4, "1"),
    (MUX_WORD, "channels-worded", b"2 MW -0.0200 mm\r\n", -0.02, MM, 4, "2"),
    (MUX_STATUS, "channels-first", b"001, -1.2340, NRM, 01\r\n", -1.234, MM, 4, "1"),
    (MUX_STATUS, "channels-last", b"017, 28.350, NRM, 04\r\n", 28.35, MM, 3, "4"),
]
# What looks like a number and is none, or carries what a corner or an edge is not measured in.
NO_READINGS = [
    (OPTICAL, "length-3.3", b"ERR0\r", FaultReason.INSTRUMENT_ERROR),
    (OPTICAL, "length-3.3", b"ERR3\r", FaultReason.INSTRUMENT_ERROR),
    (OUT_OF_RANGE, "length-3.3", b"OR\r", FaultReason.INSTRUMENT_ERROR),
    (TOLERANCE, "length-3.3", b"ERR6\r", FaultReason.INSTRUMENT_ERROR),
    (TOLERANCE, "length-3.3", b"1 +028.35 mm;2 +011.20 mm\r", FaultReason.GARBLED),
    (MUX_WORD, "channels-worded", b"3 TO 999999.99 mm\r\n", FaultReason.INSTRUMENT_ERROR),
    (MUX_LETTER, "channels-lettered", b"911\r", FaultReason.INSTRUMENT_ERROR),
    (MUX_STATUS, "channels-first", b"001, -1.2340, +NG, 01\r\n", FaultReason.INSTRUMENT_ERROR),
    (LEVEL, "angle-lettered", b"APG 99.94\r", FaultReason.REFUSED),
    ("P: the column display switched to radians", "angle-plain", b"1.5708 rad\r", FaultReason.REFUSED),
]


def maker(name: str) -> Decoder:
    return wire_format(name).make_decoder(DecoderOptions())


@pytest.mark.parametrize(
    ("source", "name", "wire", "shown", "unit", "decimals", "channel"),
    [*((*row, "") for row in LINES), *CHANNEL_LINES],
)
def test_a_line_of_a_manual(
    source: str, name: str, wire: bytes, shown: float, unit: Unit, decimals: int, channel: str
) -> None:
    expected = Indication(shown=shown, unit=unit, decimals=decimals, channel=channel)
    noise = b"hello\n" if WIRE_FORMATS[name].typed else b"\x00\xff\x13k\r"
    check_vector(lambda: maker(name), wire, [expected], settle=b"tail\r", noise=noise, trailing=wire[:3])


@pytest.mark.parametrize(("source", "name", "wire", "reason"), NO_READINGS)
def test_a_line_of_a_manual_that_is_no_reading(source: str, name: str, wire: bytes, reason: FaultReason) -> None:
    for pieces in ((wire,), tuple(bytes([byte]) for byte in wire)):
        decoder = maker(name)
        decoder.feed(b"tail\r")
        (item,) = [item for piece in pieces for item in decoder.feed(piece)]
        assert isinstance(item, Fault)
        assert item.reason is reason


def test_every_line_that_the_table_of_formats_shows_is_understood() -> None:
    for row in WIRE_FORMATS.values():
        for line in row.lines:
            decoder = row.make_decoder(DecoderOptions(streams=False, binary_proven=True))
            first = line.encode("latin-1")
            items = decoder.feed(first + b"\r")
            other_axis = first.startswith(b"Y=") or "359" in line
            assert other_axis or any(isinstance(item, Indication) for item in items), (row.name, line)

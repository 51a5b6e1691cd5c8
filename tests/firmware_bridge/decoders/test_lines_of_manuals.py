"""Lines and frames as public documents show them: each whole, byte by byte, in two pieces, and after noise.

The source stands beside each in words; makers are not named. How it was had stands in front: `PRINTED` stands so in a
public copy that was read; `LAID_OUT` the layout stands there, the digits are ours; `MEMORY` from memory of such lines;
`PRACTICE` common practice, no document.
"""

from __future__ import annotations

from enum import StrEnum

import pytest
from msgspec import Struct

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.decoders.fault import Decoder, Fault, FaultReason
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions, wire_format
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, spc_bits
from tests.firmware_bridge.decoders.wire_vectors import check_vector


class Had(StrEnum):
    PRINTED = "printed in a public copy"
    LAID_OUT = "laid out in a public copy, digits ours"
    MEMORY = "from memory"
    PRACTICE = "common practice"


class Source(Struct, frozen=True):
    had: Had
    words: str


def printed(words: str) -> Source:
    return Source(Had.PRINTED, words)


def laid_out(words: str) -> Source:
    return Source(Had.LAID_OUT, words)


def memory(words: str) -> Source:
    return Source(Had.MEMORY, words)


INDICATOR = "manual of a digital indicator with serial and USB output, page on its commands: 13 characters to a request"
INDICATOR_PAGE = "interface page of such an indicator: sign, 8 characters with blanks, blank and comma, unit; 9600 8N1"
OPTICAL = "manual of an optical cable: sign or blank, digits by unit and resolution, CR; 4800 7E2; ERR and a number"
COLUMN = "manual of a column gauge: fixed width, the point moved by unit and resolution, CR, or the letters OR"
TOLERANCE = "manual of a compact column display: sign, digits, unit, then < = > for tolerance and for warning limits"
HEIGHT = "manual of a height gauge: sign directly before a right-aligned value, a blank for plus, with and without unit"
READOUT = "manual of a digital readout: blanks and a value to the request Q; 9600 8N1"
PANEL = "manual of a panel meter: sign, value with a point even behind the last digit, CR"
RADIO = "manual of the receiver of radio scales, its examples of every output mode"
SKETCH = "public sketch of a microcontroller that reads a caliper: value with two places, a blank, mm or in"
KEYS = "description of an interface that types: value, or value and unit, then a key"
TILT = "data sheet of an inclinometer: X= or Y=, sign, 2.3 digits, CR LF; 9600 8E1, in another of its kind 8N1"
TILT_COARSE = "data sheet of its coarser sister: two places; 9600 8N1"
TURN = "interface note of an inclinometer of a whole turn: decimal comma (there within a frame that is not spoken)"
PROTRACTOR = "public thread on a protractor's output, quoting its manual: XXX.XX, 9600 8N1"
LEVEL = "manual of an electronic level: A, P or H, unit letter, value as displayed, CR; 4 a second"
MUX_WORD = "note on a multiplexer's protocol: channel, MW, sign, eight characters filled with zeros, unit"
COUNTER = "manual of a counter of gauging probes: two digits of module and input, letters of mode and unit, value"
MUX_LETTER = "manual of a multiplexer: channel, letter, signed value, CR"
MUX_STATUS = "manual of a gauging interface: line number, value, NRM, channel"
SPC_PROJECTOR = "manual of a measuring projector, page on its 13 digits"
SPC_LASER = "manual of a laser gauge, page on its 13 digits, with what its judgement writes into the last"
SPC_LIBRARY = "source of a public sketch that reads the 13 digits: d6 to d11, then the decimals, then the unit"
BITS_24 = "source of a public sketch: 24 bits, low first; bit 20 sign, bit 23 inch; hundredths, or 2000 to the inch"
BITS_24_ONE = "documentation of an open-source interface: first bit always 1, twenty of magnitude, sign; 24 in all"
BITS_25_ONE = "source of a public sketch: a start bit that is always 1 before the 24"
BITS_24_NO_UNIT = "documentation of an open-source library: 20 bits, sign, three more; always hundredths of a mm"
BITS_28 = "public page of captures by a logic analyser: seven groups of four, low first; flags ?MHN; display 9.8015"
BITS_48 = (
    "table of scales' protocols in a public thread: two groups of 24, low first, 20480 to the inch, absolute first"
)
BITS_48_SWAPPED = "public page on an interface of such calipers: the display's group first, 20480 to the inch"
BITS_21 = "public page on scales read at the reader's clock: 21 bits, low first, 2560 to the inch"

MM, INCH, DEG = Unit.MM, Unit.INCH, Unit.DEG
LINES = [
    (printed(INDICATOR), "length-8-unit", b"+ 2.1380, MM\r\n", 2.138, MM, 4),
    (laid_out(INDICATOR_PAGE), "length-8-unit", b"+  2.1380 ,IN\r\n", 2.138, INCH, 4),
    (laid_out(INDICATOR_PAGE), "length-8-unit", b"-  12.345 ,MM\r\n", -12.345, MM, 3),
    (laid_out(INDICATOR_PAGE), "length-8-unit", b"+    9.50 ,MM\r\n", 9.5, MM, 2),
    (laid_out(OPTICAL), "length-3.3", b"+012.345\r", 12.345, MM, 3),
    (laid_out(OPTICAL), "length-3.3", b" 120.34\r", 120.34, MM, 2),
    (laid_out(OPTICAL), "length-3.3", b"-09.99\r", -9.99, MM, 2),
    (laid_out(OPTICAL), "length-3.3", b"+0.4860\r", 0.486, MM, 4),
    (laid_out(OPTICAL), "length-3.3", b"     0.00\r", 0.0, MM, 2),
    (printed(COLUMN), "length-3.3", b"+012.3456\r", 12.3456, MM, 4),
    (printed(COLUMN), "length-3.3", b"-0123.456\r", -123.456, MM, 3),
    (printed(COLUMN), "length-3.3", b"+01.23456\r", 1.23456, MM, 5),
    (memory(TOLERANCE), "length-3.3", b"+028.35 mm\r", 28.35, MM, 2),
    (memory(TOLERANCE), "length-3.3", b"+028.35 mm <\r", 28.35, MM, 2),
    (memory(TOLERANCE), "length-3.3", b"+028.35 mm =\r", 28.35, MM, 2),
    (memory(TOLERANCE), "length-3.3", b"-000.02 mm > =\r", -0.02, MM, 2),
    (memory(TOLERANCE), "length-3.3", b"+001.1025 inch =\r", 1.1025, INCH, 4),
    (printed(RADIO), "length-8-unit", b"5.637\r\n", 5.637, MM, 3),
    (printed(RADIO), "length-8-unit", b"28.35\r\n", 28.35, MM, 2),
    (printed(RADIO), "length-8-unit", b"5.637 IN\r\n", 5.637, INCH, 3),
    (printed(RADIO), "length-8-unit", b"5.637 MM\r\n", 5.637, MM, 3),
    (memory("a caliper's cable, display held: H behind the value"), "length-8-unit", b"28.35 H\r\n", 28.35, MM, 2),
    (laid_out(HEIGHT), "length-3.3", b"   -12.3450\r", -12.345, MM, 4),
    (laid_out(HEIGHT), "length-3.3", b"   119.9800 mm\r", 119.98, MM, 4),
    (laid_out(READOUT), "length-8-unit", b"   570.65\r\n", 570.65, MM, 2),
    (memory(PANEL), "length-8-unit", b"+999.99\r", 999.99, MM, 2),
    (memory(PANEL), "length-8-unit", b"+00120.\r", 120.0, MM, 0),
    (laid_out(SKETCH), "length-8-unit", b"12.34 mm\r\n", 12.34, MM, 2),
    (laid_out(SKETCH), "length-8-unit", b"0.49 in\r\n", 0.49, INCH, 2),
    (
        Source(Had.PRACTICE, "the unit as a word, as people's own sketches write it"),
        "length-8-unit",
        b"1.6125 inches\r\n",
        1.6125,
        INCH,
        4,
    ),
    (Source(Had.PRACTICE, "the unit with a capital"), "length-8-unit", b"12.34 Mm\r\n", 12.34, MM, 2),
    (memory("semicolon before the unit"), "length-8-unit", b"40.02;mm\r\n", 40.02, MM, 2),
    (memory("tab before the unit, decimal comma"), "length-8-unit", b"40,02\tmm\r\n", 40.02, MM, 2),
    (memory(KEYS), "typed-length", b"1.23 mm\n", 1.23, MM, 2),
    (memory(KEYS), "typed-length", b"120.34\t", 120.34, MM, 2),
    (memory(KEYS), "typed-length", b"-0,01\n", -0.01, MM, 2),
    (memory(KEYS), "typed-length", b"4.7375in\n", 4.7375, INCH, 4),
    (memory(KEYS), "typed-angle", b"89,95\n", 89.95, DEG, 2),
    (printed(TILT), "angle-x", b"X=+00.430\r\n", 0.43, DEG, 3),
    (laid_out(TILT), "angle-x", b"X=-00.084\r\n", -0.084, DEG, 3),
    (printed(TILT_COARSE), "angle-x", b"X=+00.43\r\n", 0.43, DEG, 2),
    (laid_out(TURN), "angle-plain", b"179,99\r\n", 179.99, DEG, 2),
    (laid_out(TURN), "angle-plain", b"+89,99\r\n", 89.99, DEG, 2),
    (laid_out(PROTRACTOR), "angle-plain", b"089.95\r\n", 89.95, DEG, 2),
    (memory("protractor, value and degree sign"), "angle-plain", b"89.95\xb0\r\n", 89.95, DEG, 2),
    (laid_out(LEVEL), "angle-lettered", b"APD  89.95\r", 89.95, DEG, 2),
    (laid_out(LEVEL), "angle-lettered", b"AHD-0.4\r", -0.4, DEG, 1),
    (memory(TOLERANCE), "angle-dms", b"+089:59:30 dms\r", 89 + 59 / 60 + 30 / 3600, DEG, 4),
    (memory(TOLERANCE), "angle-dms", b"-000:30:00 dms =\r", -0.5, DEG, 4),
    (memory("bevel protractor, degrees and minutes"), "angle-dms", b"89\xb059'\r\n", 89 + 59 / 60, DEG, 2),
]
CHANNEL_LINES = [
    (memory(MUX_LETTER), "channels-lettered", b"01A-001.2340\r", -1.234, MM, 4, "1"),
    (memory(MUX_LETTER), "channels-lettered", b"01A+00001.75\r", 1.75, MM, 2, "1"),
    (memory(MUX_LETTER), "channels-lettered", b"01A+0000.123\r", 0.123, MM, 3, "1"),
    (memory(MUX_LETTER), "channels-lettered", b"03A+000.48600\r", 0.486, MM, 5, "3"),
    (printed(COUNTER), "channels-lettered", b"00-09.9999\r\n", -9.9999, MM, 4, "0"),
    (printed(COUNTER), "channels-lettered", b"00NM-09.9999\r\n", -9.9999, MM, 4, "0"),
    (printed(COUNTER), "channels-lettered", b"00NMG-09.9999\r\n", -9.9999, MM, 4, "0"),
    (printed(MUX_WORD), "channels-worded", b"1 MW+003.4665 inch\r\n", 3.4665, INCH, 4, "1"),
    (printed(MUX_WORD), "channels-worded", b"2 MW-00088.29 mm\r\n", -88.29, MM, 2, "2"),
    (printed(MUX_WORD), "channels-worded", b"4 MW +00001.55 mm\r\n", 1.55, MM, 2, "4"),
    (printed(MUX_WORD), "channels-worded", b"1 MW+00013.67 mm\r\n", 13.67, MM, 2, "1"),
    (printed(RADIO), "channels-behind", b"5.637 MM 2\r\n", 5.637, MM, 3, "2"),
    (printed(RADIO), "channels-behind", b"5.637 IN 3\r\n", 5.637, INCH, 3, "3"),
    (printed(RADIO), "channels-behind", b"5.637 2\r\n", 5.637, MM, 3, "2"),
    (printed(RADIO), "channels-behind", b"5.637 MM 2 7\r\n", 5.637, MM, 3, "2"),
    (printed(RADIO), "channels-behind", b"5.637 IN 3 5\r\n", 5.637, INCH, 3, "3"),
    (memory(MUX_STATUS), "channels-first", b"001, -1.2340, NRM, 01\r\n", -1.234, MM, 4, "1"),
    (memory(MUX_STATUS), "channels-last", b"017, 28.350, NRM, 04\r\n", 28.35, MM, 3, "4"),
]
# Frames by their layout ("" for the 52 bits, as the 13 digits); a display's value beside each.
FRAMES = [
    (printed(SPC_PROJECTOR), "", "FFFF801234530", -12.345, MM),
    (printed(SPC_LASER), "", "FFFF021076540", 21.0765, MM),
    (laid_out(SPC_LASER), "", "FFFF021076543", 21.0765, MM),
    (laid_out(SPC_LASER), "", "FFFF004860046", 4.86, INCH),
    (laid_out(SPC_LIBRARY), "", "FFFF000012330", 0.123, MM),
    (laid_out(BITS_24), "plain", binary_bits(12034, False, False), 120.34, MM),
    (laid_out(BITS_24), "plain", binary_bits(9449, True, True), -4.7245, INCH),
    (laid_out(BITS_24_ONE), "leading-one-inside", "1" + binary_bits(1234, False, False)[:23], 12.34, MM),
    (laid_out(BITS_24_ONE), "leading-one-inside", "1" + binary_bits(1234, True, False)[:23], -12.34, MM),
    (laid_out(BITS_24_ONE), "leading-one-inside", "1" + binary_bits(9449, False, False)[:22] + "1", 4.7245, INCH),
    (laid_out(BITS_25_ONE), "leading-one", "1" + binary_bits(12034, False, False), 120.34, MM),
    (laid_out(BITS_24_NO_UNIT), "no-unit", binary_bits(12034, True, False), -120.34, MM),
    (printed(BITS_28), "seven-digits", "1000000000011001000000000100", 9.8015, INCH),
    (laid_out(BITS_28), "seven-digits", "0010110001001000000000001010", -12.34, MM),
    (laid_out(BITS_48), "two-groups", f"{77777:024b}"[::-1] + f"{20480:024b}"[::-1], 25.4, MM),
    (laid_out(BITS_48_SWAPPED), "two-groups-swapped", f"{20480:024b}"[::-1] + f"{77777:024b}"[::-1], 25.4, MM),
    (laid_out(BITS_21), "host-clocked", f"{2560:021b}"[::-1], 25.4, MM),
    (laid_out(BITS_21), "host-clocked", f"{2**21 - 2560:021b}"[::-1], -25.4, MM),
    (memory("scales that count micrometres"), "micrometres", binary_bits(12345, False, False), 12.345, MM),
    (memory("calipers with the sign one place later"), "sign-21", binary_bits(500, True, False, 21), -5.0, MM),
]
# What looks like a number and is none, or carries what a corner or an edge is not measured in.
NO_READINGS = [
    (printed(OPTICAL), "length-3.3", b"ERR0\r", FaultReason.INSTRUMENT_ERROR),
    (printed(OPTICAL), "length-3.3", b"ERR3\r", FaultReason.INSTRUMENT_ERROR),
    (printed(COLUMN), "length-3.3", b"OR\r", FaultReason.INSTRUMENT_ERROR),
    (memory(TOLERANCE), "length-3.3", b"ERR6\r", FaultReason.INSTRUMENT_ERROR),
    (memory(TOLERANCE), "length-3.3", b"1 +028.35 mm;2 +011.20 mm\r", FaultReason.GARBLED),
    (printed(READOUT), "length-8-unit", b"AXIS X: 223.99\r\n", FaultReason.GARBLED),
    (laid_out(HEIGHT), "length-3.3", b"007 ABS  -12.3450 mm\r", FaultReason.GARBLED),
    (printed(RADIO), "length-8-unit", b"5.637 MM 2\r\n", FaultReason.GARBLED),
    (printed(MUX_WORD), "channels-worded", b"3 TO 999999.99 mm\r\n", FaultReason.INSTRUMENT_ERROR),
    (memory(MUX_LETTER), "channels-lettered", b"911\r", FaultReason.INSTRUMENT_ERROR),
    (laid_out(COUNTER), "channels-lettered", b"00AMG-09.9999\r\n", FaultReason.GARBLED),
    (laid_out(COUNTER), "channels-lettered", b"00NME  Error \r\n", FaultReason.INSTRUMENT_ERROR),
    (memory(MUX_STATUS), "channels-first", b"001, -1.2340, +NG, 01\r\n", FaultReason.INSTRUMENT_ERROR),
    (laid_out(LEVEL), "angle-lettered", b"APG 99.94\r", FaultReason.REFUSED),
    (laid_out(LEVEL), "angle-lettered", b"APM 1580\r", FaultReason.REFUSED),
    (laid_out(LEVEL), "angle-lettered", b"AH% 0.1\r", FaultReason.REFUSED),
    (memory("the column display switched to radians"), "angle-plain", b"1.5708 rad\r", FaultReason.REFUSED),
    (
        printed("manual of a force gauge on the same port and request"),
        "length-8-unit",
        b"-18.78 lbF\r\n",
        FaultReason.GARBLED,
    ),
]


def maker(name: str) -> Decoder:
    return wire_format(name).make_decoder(DecoderOptions())


@pytest.mark.parametrize(
    ("source", "name", "wire", "shown", "unit", "decimals", "channel"),
    [*((*row, "") for row in LINES), *CHANNEL_LINES],
)
def test_a_line_of_a_manual(
    source: Source, name: str, wire: bytes, shown: float, unit: Unit, decimals: int, channel: str
) -> None:
    expected = Indication(shown=shown, unit=unit, decimals=decimals, channel=channel)
    noise = b"hello\n" if WIRE_FORMATS[name].typed else b"\x00\xff\x13k\r"
    check_vector(lambda: maker(name), wire, [expected], settle=b"tail\r", noise=noise, trailing=wire[:3])


@pytest.mark.parametrize(("source", "layout", "frame", "shown", "unit"), FRAMES)
def test_a_frame_of_a_manual(source: Source, layout: str, frame: str, shown: float, unit: Unit) -> None:
    """As a microcontroller prints it; what the bits are, on a wire of their own, is the board's (test_pico)."""
    name, binary = ("binary-24", LAYOUTS[layout]) if layout else ("spc-52", LAYOUTS["plain"])

    def make() -> Decoder:
        return wire_format(name).make_decoder(DecoderOptions(binary=binary, binary_proven=True))

    bits = frame if layout else spc_bits([int(digit, 16) for digit in frame])
    (item,) = make().feed(bits.encode() + b"\r\n")
    assert isinstance(item, Indication)
    assert (item.shown, item.unit) == (pytest.approx(shown), unit)
    for wire in {bits.encode() + b"\r\n", frame.encode() + b"\r\n"}:
        check_vector(make, wire, [item], noise=b"\x00\xff1F\r", trailing=wire[:12])


@pytest.mark.parametrize(("source", "name", "wire", "reason"), NO_READINGS)
def test_a_line_of_a_manual_that_is_no_reading(source: Source, name: str, wire: bytes, reason: FaultReason) -> None:
    for pieces in ((wire,), tuple(bytes([byte]) for byte in wire)):
        decoder = maker(name)
        decoder.feed(b"tail\r")
        (item,) = [item for piece in pieces for item in decoder.feed(piece)]
        assert isinstance(item, Fault)
        assert item.reason is reason


def test_at_least_forty_of_them_come_from_public_documents() -> None:
    read = [row[0] for row in (*LINES, *CHANNEL_LINES, *FRAMES)]
    public = [source for source in read if source.had in (Had.PRINTED, Had.LAID_OUT)]
    assert len(public) >= 40
    assert len([source for source in public if source.had is Had.PRINTED]) >= 20
    assert all(source.words for source in read)


def test_every_line_that_the_table_of_formats_shows_is_understood() -> None:
    for row in WIRE_FORMATS.values():
        for line in row.lines:
            decoder = row.make_decoder(DecoderOptions(streams=False, binary_proven=True))
            first = line.encode("latin-1")
            items = decoder.feed(first + b"\r")
            other_axis = first.startswith(b"Y=") or "359" in line
            assert other_axis or any(isinstance(item, Indication) for item in items), (row.name, line)

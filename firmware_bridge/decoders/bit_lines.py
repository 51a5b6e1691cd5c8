"""Stage: clock-and-data frames that a microcontroller prints as text, one a line, to indications.

Input: bytes of lines, each either the bits in the order they came (`0` and `1`) or, for the 52-bit output, its 13
digits in hexadecimal, d1 first; output: indications and faults.
"""

import re
from collections.abc import Callable

from core.metrology import Indication
from core.said import said
from firmware_bridge.decoders import binary_24bit, spc_52bit
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.line_buffer import MAX_LINE_BYTES, LineBuffer

ReadLine = Callable[[bytes], Indication | Fault | None]


class FrameLineDecoder:
    """Splits lines of at most `max_bytes` and hands each to `read_line`, which gives None for one that is no frame."""

    def __init__(self, read_line: ReadLine, max_bytes: int = MAX_LINE_BYTES) -> None:
        self._read_line = read_line
        self._buffer = LineBuffer(max_bytes)

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take bytes; return what became complete, in order."""
        return [item if isinstance(item, Fault) else self._line(item) for item in self._buffer.feed(data)]

    def reset(self) -> None:
        """Forget a half-received line."""
        self._buffer.reset()

    def _line(self, line: bytes) -> Indication | Fault:
        return self._read_line(line) or Fault(
            reason=FaultReason.GARBLED, text=said("a line that is no frame of this format"), raw=line
        )


def spc_52bit_decoder() -> FrameLineDecoder:
    """Lines of 52 bits, or of 13 hexadecimal digits."""

    def read_line(line: bytes) -> Indication | Fault | None:
        if re.fullmatch(rb"[01]{52}", line):
            return spc_52bit.read_digits(spc_52bit.digits_from_word(word_from_bits(line)))
        if re.fullmatch(rb"[0-9A-Fa-f]{13}", line):
            return spc_52bit.read_digits([int(chr(digit), 16) for digit in line])
        return None

    return FrameLineDecoder(read_line)


def binary_24bit_decoder(layout: BinaryLayout, *, proven: bool) -> FrameLineDecoder:
    """Lines of as many bits as the layout has; `proven`: it was seen to read as the instrument's display does."""

    def read_line(line: bytes) -> Indication | Fault | None:
        if re.fullmatch(rb"[01]{21,48}", line):
            return binary_24bit.read_frame(word_from_bits(line), len(line), layout, proven=proven)
        return None

    return FrameLineDecoder(read_line)


def word_from_bits(bits: bytes) -> int:
    """A word whose bit 0 is the first character of `bits`."""
    return int(bits[::-1], 2)

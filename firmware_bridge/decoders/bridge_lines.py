"""Stage: lines of our own microcontroller bridge to indications. Input: bytes; output: indications and faults.

    CW1,<channel>,<sequence>,<word in hex>,<format>*<CRC-16/XMODEM in hex> CRLF

`word` holds the bits as sampled, the first on the wire being bit 0; `format` is S52 (52-bit SPC) or B24, B25, B48
(binary, number of bits); the CRC covers everything before the asterisk. The board decodes nothing. The sequence counts
modulo 65536 and shows lines that were lost; one that comes twice is believed once.
"""

import binascii
import re

from core.metrology import Indication
from core.said import said, said_counted
from firmware_bridge.decoders import binary_24bit, spc_52bit
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.line_buffer import LineBuffer

SEQUENCES = 65536
# Upper case only: a bit lost between `A` and `a` must not pass unseen.
_LINE = re.compile(
    rb"(?P<body>CW1,(?P<channel>\d{1,2}),(?P<sequence>\d{1,5}),(?P<word>[0-9A-F]{1,13}),(?P<format>S52|B21|B24|B25|B28|B48))"
    rb"\*(?P<crc>[0-9A-F]{4})"
)


def binary_frame(line: bytes) -> tuple[int, int, str] | None:
    """Word, number of bits and channel of a whole line that carries a binary frame; None for any other."""
    match = _LINE.fullmatch(line)
    if match is None or _damaged(match) or match["format"] == b"S52":
        return None
    return int(match["word"], 16), int(match["format"][1:]), str(int(match["channel"]))


def _damaged(match: re.Match[bytes]) -> bool:
    return binascii.crc_hqx(match["body"], 0) != int(match["crc"], 16)


class BridgeDecoder:
    """Checks, counts and decodes the bridge's lines; `layout` is that of the binary instruments on it, `proven` that it
    was seen to read as their displays do."""

    def __init__(self, layout: BinaryLayout, *, proven: bool) -> None:
        self._layout = layout
        self._proven = proven
        self._buffer = LineBuffer()
        self._last_sequence: int | None = None

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take bytes; return what became complete, in order."""
        out: list[Indication | Fault] = []
        for item in self._buffer.feed(data):
            out += [item] if isinstance(item, Fault) else self._line(item)
        return out

    def reset(self) -> None:
        """Forget a half-received line and the sequence (the board may have been restarted)."""
        self._buffer.reset()
        self._last_sequence = None

    def _line(self, line: bytes) -> list[Indication | Fault]:
        match = _LINE.fullmatch(line)
        if match is None:
            return [Fault(reason=FaultReason.GARBLED, text=said("a line that is not the bridge's"), raw=line)]
        if _damaged(match):
            text = said("the checksum does not fit: the line was damaged on the way")
            return [Fault(reason=FaultReason.CHECKSUM, text=text, raw=line)]
        channel, sequence = str(int(match["channel"])), int(match["sequence"])
        out, repeated = self._counted(sequence, channel, line)
        if not repeated:
            out.append(self._frame(int(match["word"], 16), match["format"], channel))
        return out

    def _counted(self, sequence: int, channel: str, line: bytes) -> tuple[list[Indication | Fault], bool]:
        """Faults for lines lost before this one, and whether this one came before."""
        last, self._last_sequence = self._last_sequence, sequence
        # A restarted board counts from 0 again.
        if last is None or sequence == 0 or sequence == (last + 1) % SEQUENCES:
            return [], False
        if sequence == last:
            text = said("the bridge's line came twice and counts once")
            return [Fault(reason=FaultReason.REFUSED, text=text, raw=line, channel=channel)], True
        lost = (sequence - last - 1) % SEQUENCES
        return [
            Fault(
                reason=FaultReason.GARBLED,
                text=said_counted(
                    "{count} line of the bridge was lost", "{count} lines of the bridge were lost", count=lost
                ),
                raw=line,
            )
        ], False

    def _frame(self, word: int, format_name: bytes, channel: str) -> Indication | Fault:
        if format_name == b"S52":
            return spc_52bit.read_digits(spc_52bit.digits_from_word(word), channel)
        return binary_24bit.read_frame(word, int(format_name[1:]), self._layout, proven=self._proven, channel=channel)

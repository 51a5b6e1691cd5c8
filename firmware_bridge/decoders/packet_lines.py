"""Stage: packets of instruments that send no lines, over radio or as USB reports, to indications.

Input: bytes of lines, each one packet in hexadecimal digits as its link writes it. Output: indications and faults.

No public standard lays such packets out, so the layout is described by hand: where the number begins, how many bytes it
has, in which order, what one count is worth. What is described so may be a wrong number in a right place; so, as with
binary frames, it says numbers only once it was seen to read as the instrument's display does. `same` are the bytes that
stood still while it was compared: where one changes, its unit may have been switched, and nothing is believed.
"""

import re

from msgspec import Struct

from core.metrology import Indication, Unit
from core.said import Name, Number, said
from firmware_bridge.decoders.bit_lines import FrameLineDecoder
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.line_buffer import LineBuffer
from firmware_bridge.decoders.plausible import gated

# A notification of the longest kind is larger; no instrument's is.
MOST_BYTES = 64
ANY_BYTE = ".."
_PACKET = re.compile(rb"(?:[0-9A-F]{2}){1,%d}" % MOST_BYTES)
_SAME = re.compile(r"(?:[0-9A-F]{2}|\.\.)*")


class PacketLayout(Struct, frozen=True, kw_only=True):
    """Where the number stands in a packet, as a whole number of which one is the last of `decimals`; negative in two's
    complement where `signed`. `same`: two characters a byte, a value in hexadecimal digits or `..`, for packets of just
    that length; empty: any packet that is long enough."""

    first_byte: int = 0
    byte_count: int = 4
    big_endian: bool = False
    signed: bool = True
    decimals: int = 2
    same: str = ""

    def __post_init__(self) -> None:
        if not 0 <= self.first_byte < MOST_BYTES or not 1 <= self.byte_count <= 4:
            raise ValueError(f"byte {self.first_byte}, {self.byte_count} bytes: 1 to 4 within the first {MOST_BYTES}")
        if not 0 <= self.decimals <= 5:
            raise ValueError(f"{self.decimals} decimals: it must be 0 to 5")
        if not _SAME.fullmatch(self.same):
            raise ValueError(f"{self.same!r}: bytes in hexadecimal digits, or .. for any, such as 3A....00")

    @property
    def end(self) -> int:
        """The byte behind the number."""
        return self.first_byte + self.byte_count


def packet_line(packet: bytes) -> bytes:
    """A packet as the line that a link writes for the decoder."""
    return packet.hex().upper().encode() + b"\r"


def packets_in(data: bytes) -> tuple[bytes, ...]:
    """The whole packets in what was heard."""
    lines = LineBuffer(2 * MOST_BYTES).feed(data)
    return tuple(bytes.fromhex(line.decode()) for line in lines if isinstance(line, bytes) and _PACKET.fullmatch(line))


def read_packet(packet: bytes, layout: PacketLayout, unit: Unit) -> Indication | Fault:
    """Decode one packet whose number is in `unit`."""
    raw = packet.hex().upper().encode()
    if len(packet) < layout.end or (layout.same and 2 * len(packet) != len(layout.same)):
        text = said("a packet of {count} bytes: another one, or another layout", count=len(packet))
        return Fault(reason=FaultReason.GARBLED, text=text, raw=raw)
    for place in range(len(layout.same) // 2):
        wanted = layout.same[2 * place : 2 * place + 2]
        if wanted not in (ANY_BYTE, f"{packet[place]:02X}"):
            text = said(
                "byte {place} was {wanted} when it was compared: if its unit was switched, switch it back",
                place=place + 1,
                wanted=Name(wanted),
            )
            return Fault(reason=FaultReason.REFUSED, text=text, raw=raw)
    number = packet[layout.first_byte : layout.end]
    count = int.from_bytes(number, "big" if layout.big_endian else "little", signed=layout.signed)
    return gated(count / 10**layout.decimals, unit, layout.decimals, raw=raw)


def packet_decoder(layout: PacketLayout, unit: Unit, *, proven: bool) -> FrameLineDecoder:
    """Lines of packets by one layout; `proven`: it was seen to read as the instrument's display does."""

    def read_line(line: bytes) -> Indication | Fault:
        if not _PACKET.fullmatch(line):
            return Fault(
                reason=FaultReason.GARBLED, text=said("a line that is no packet in hexadecimal digits"), raw=line
            )
        item = read_packet(bytes.fromhex(line.decode()), layout, unit)
        if proven or isinstance(item, Fault):
            return item
        text = said(
            "{shown} {unit}, if it is laid out as described, which is not proven: compare with "
            "the instrument's display",
            shown=Number(item.shown, item.decimals),
            unit=Name(item.unit),
        )
        return Fault(reason=FaultReason.REFUSED, text=text, raw=line)

    return FrameLineDecoder(read_line, 2 * MOST_BYTES)

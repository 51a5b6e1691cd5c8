"""Where in an instrument's packets does its number stand? Pure: packets at three openings, and what the instrument's
own display shows there, against every place, width, order and scale there is.

Input: packets heard with the jaws closed, opened to about 10 mm, and closed again with zero set at the opening (so that
the display is below zero), and the numbers on the display then. Output: the layout that is proven by them. The upper
bytes of a number below zero are all ones in two's complement, of one above all zeros: so the third opening tells how
wide the number is, and the widest that reads all three is the whole of it.
"""

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from core.metrology import Indication, Unit
from firmware_bridge.decoders.packet_lines import ANY_BYTE, PacketLayout, read_packet

# The last digit may stand between two, and flicker.
AGREES = 0.03
# Above and below zero by at least so much, or several layouts would read alike.
LEAST = 2.0


class Opening(Struct, frozen=True, kw_only=True):
    """Packets heard, and what the display showed meanwhile."""

    packets: tuple[bytes, ...]
    display: float


def proven_packet_layout(openings: Sequence[Opening], unit: Unit) -> PacketLayout | None:
    """The layout that reads all of them as the display did, given in `unit`; None where none does, where several could
    part later, and where the display was not above and below zero by LEAST."""
    shown = [opening.display for opening in openings]
    packets = [packet for opening in openings for packet in opening.packets]
    lengths = {len(packet) for packet in packets}
    if not shown or max(shown) < LEAST or min(shown) > -LEAST or len(lengths) != 1:
        return None
    remaining = [layout for layout in _layouts(lengths.pop()) if all(_reads(layout, one, unit) for one in openings)]
    if not remaining:
        return None
    widest = max(remaining, key=lambda layout: layout.byte_count)
    if not all(_is_part(layout, widest) for layout in remaining):
        return None
    return replace(widest, same=_what_stood_still(packets, widest))


def _layouts(length: int) -> Iterator[PacketLayout]:
    for first in range(length):
        for count in range(1, min(4, length - first) + 1):
            for big_endian in (False, True) if count > 1 else (False,):
                for decimals in range(6):
                    yield PacketLayout(first_byte=first, byte_count=count, big_endian=big_endian, decimals=decimals)


def _reads(layout: PacketLayout, opening: Opening, unit: Unit) -> bool:
    items = [read_packet(packet, layout, unit) for packet in opening.packets]
    values = sorted(item.shown for item in items if isinstance(item, Indication))
    # One damaged packet among several does not speak against a layout.
    if not values or len(values) * 4 < len(items) * 3:
        return False
    return abs(values[len(values) // 2] - opening.display) <= AGREES


def _is_part(layout: PacketLayout, whole: PacketLayout) -> bool:
    """True when it is the lower bytes of the whole number, at the same scale."""
    alike = layout.big_endian == whole.big_endian or layout.byte_count == 1
    return alike and layout.decimals == whole.decimals and _lowest(layout) == _lowest(whole)


def _lowest(layout: PacketLayout) -> int:
    """Where the byte of the least worth stands."""
    return layout.end - 1 if layout.big_endian else layout.first_byte


def _what_stood_still(packets: Sequence[bytes], layout: PacketLayout) -> str:
    return "".join(
        ANY_BYTE
        if layout.first_byte <= place < layout.end or len({packet[place] for packet in packets}) > 1
        else f"{packets[0][place]:02X}"
        for place in range(len(packets[0]))
    )

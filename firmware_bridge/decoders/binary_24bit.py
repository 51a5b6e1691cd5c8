"""Stage: frames of the 24-bit binary output to indications. Input: the bits of one frame, first bit on the wire = bit 0
of a word; output: an indication or a fault. Source: public descriptions of the clock-and-data output of digital scales.

Sign and magnitude: bits 0-19 magnitude (0.01 mm, or 0.0005 inch), bit 20 sign, bit 23 inch flag. Makers vary, so the
layout is a setting of the instrument, and bits that the layout leaves unused must be zero. There is no checksum.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.metrology.readings import MM_PER_INCH, Indication, Unit
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.plausible import gated

GROUP_BITS = 24
MAGNITUDE_BITS = 20
INCH_BIT = 23
COUNTS_PER_MM = 100
COUNTS_PER_INCH = 2000
# Two-group scales count 20480 to the inch (from memory; check against the scale's display before trusting it).
TWO_GROUP_COUNTS_PER_INCH = 20480


@dataclass(frozen=True, slots=True, kw_only=True)
class BinaryLayout:
    """How a maker lays the frame out: a leading bit that is always 1, the sign at bit 20 or 21, an inch flag or none
    (then always mm), or two two's-complement groups (absolute, then the relative one, which is the display)."""

    leading_one: bool = False
    sign_bit: int = 20
    unit_flag: bool = True
    two_groups: bool = False

    def __post_init__(self) -> None:
        if self.sign_bit not in (20, 21):
            raise ValueError(f"sign bit {self.sign_bit}: it must be 20 or 21")
        if self.two_groups and (self.leading_one or self.sign_bit != 20):
            raise ValueError("two groups have neither a leading bit nor a sign bit of their own")

    @property
    def frame_bits(self) -> int:
        """Number of bits of a whole frame."""
        return 2 * GROUP_BITS if self.two_groups else GROUP_BITS + self.leading_one


def read_word(word: int, bits: int, layout: BinaryLayout, channel: str = "") -> Indication | Fault:
    """Decode a frame of `bits` bits, the first on the wire being bit 0 of `word`."""
    raw = f"{word:X}".encode()

    def garbled(text: str) -> Fault:
        return Fault(reason=FaultReason.GARBLED, text=text, raw=raw, channel=channel)

    if bits != layout.frame_bits or word >> bits:
        return garbled(f"a frame of {bits} bits: this layout has {layout.frame_bits}")
    if layout.two_groups:
        return _relative_group(word >> GROUP_BITS, raw, channel)
    if layout.leading_one:
        if not word & 1:
            return garbled("the leading bit must be 1")
        word >>= 1
    magnitude = word & (1 << MAGNITUDE_BITS) - 1
    used = (1 << MAGNITUDE_BITS) - 1 | 1 << layout.sign_bit | (layout.unit_flag and 1 << INCH_BIT)
    if word & ~used:
        return garbled("bits set that this layout leaves unused: another layout, or a damaged frame")
    sign = -1.0 if word >> layout.sign_bit & 1 else 1.0
    if layout.unit_flag and word >> INCH_BIT & 1:
        return gated(sign * magnitude / COUNTS_PER_INCH, Unit.INCH, 4, raw=raw, channel=channel)
    return gated(sign * magnitude / COUNTS_PER_MM, Unit.MM, 2, raw=raw, channel=channel)


def _relative_group(group: int, raw: bytes, channel: str) -> Indication | Fault:
    counts = group - (1 << GROUP_BITS) if group >> GROUP_BITS - 1 else group
    return gated(round(counts * MM_PER_INCH / TWO_GROUP_COUNTS_PER_INCH, 3), Unit.MM, 3, raw=raw, channel=channel)

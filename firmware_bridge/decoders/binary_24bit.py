"""Stage: frames of the binary outputs of digital scales to indications. Input: the bits of one frame, first bit on the
wire = bit 0 of a word; output: an indication or a fault. Source: public pages of people who
captured such outputs, and open-source readers of them (test_lines_of_manuals.py names each).

Makers lay the frame out in many ways and none has a checksum, so the layout is a setting of the instrument:

    plain               24 bits: 0-19 magnitude (0.01 mm, or 0.0005 inch), 20 sign, 23 inch flag
    sign-21             the sign at bit 21
    leading-one         a bit that is always 1 before the 24
    leading-one-inside  a bit that is always 1, and 24 in all: every other one stands one place later
    no-unit             no inch flag: always mm
    micrometres         as plain, 0.001 mm a count
    two-groups          two groups of 24 bits in two's complement, 20480 to the inch: absolute, then the display
    two-groups-swapped  the display first
    seven-digits        28 bits: six BCD digits, the last first, then negative, half a digit, mm, and one unused
    host-clocked        21 bits in two's complement, 2560 to the inch, at a clock that the bridge gives

A frame of one layout is often a number in another (12.34 of `leading-one-inside` reads 24.69 in `plain`). So a layout
says numbers only once it is proven (`layout_proof`); until then its frames are refused, with the number in the words.
"""

from enum import StrEnum

from msgspec import Struct

from core.metrology import MM_PER_INCH, Indication, Unit
from core.said import Name, Number, Said, said
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.plausible import gated

GROUP_BITS = 24
MAGNITUDE_BITS = 20
MAGNITUDE = (1 << MAGNITUDE_BITS) - 1
COUNTS_PER_MM = 100
INCH_COUNTS_PER_MM_COUNT = 20  # 2000 to the inch where there are 100 to the mm
TWO_GROUP_COUNTS_PER_INCH = 20480
HOST_CLOCKED_BITS = 21
HOST_CLOCKED_COUNTS_PER_INCH = 2560
SEVEN_DIGITS_BITS = 28


class BinaryKind(StrEnum):
    """What the bits of a frame are."""

    MAGNITUDE = "magnitude"
    TWO_GROUPS = "two-groups"
    SEVEN_DIGITS = "seven-digits"
    HOST_CLOCKED = "host-clocked"


class BinaryLayout(Struct, frozen=True, kw_only=True):
    """How a maker lays the frame out. `bits`, `leading_one`, `sign_bit`, `unit_flag` (the last bit; without it always
    mm) and `counts_per_mm` are for frames of sign and magnitude, bits counted behind a leading one; `display_first` is
    for two groups."""

    kind: BinaryKind = BinaryKind.MAGNITUDE
    bits: int = GROUP_BITS
    leading_one: bool = False
    sign_bit: int = 20
    unit_flag: bool = True
    counts_per_mm: int = COUNTS_PER_MM
    display_first: bool = False

    def __post_init__(self) -> None:
        if self.sign_bit not in (20, 21):
            raise ValueError(f"sign bit {self.sign_bit}: it must be 20 or 21")
        if self.bits not in (GROUP_BITS, GROUP_BITS + self.leading_one):
            raise ValueError(f"{self.bits} bits: 24, or 25 with a leading one before them")
        if self.kind is not BinaryKind.MAGNITUDE and (self.leading_one or self.sign_bit != 20):
            raise ValueError(f"{self.kind} have neither a leading bit nor a sign bit of their own")

    @property
    def frame_bits(self) -> int:
        """Number of bits of a whole frame."""
        match self.kind:
            case BinaryKind.MAGNITUDE:
                return self.bits
            case BinaryKind.TWO_GROUPS:
                return 2 * GROUP_BITS
            case BinaryKind.SEVEN_DIGITS:
                return SEVEN_DIGITS_BITS
            case BinaryKind.HOST_CLOCKED:
                return HOST_CLOCKED_BITS


LAYOUTS: dict[str, BinaryLayout] = {
    "plain": BinaryLayout(),
    "sign-21": BinaryLayout(sign_bit=21),
    "leading-one": BinaryLayout(leading_one=True, bits=GROUP_BITS + 1),
    "leading-one-inside": BinaryLayout(leading_one=True),
    "no-unit": BinaryLayout(unit_flag=False),
    "micrometres": BinaryLayout(counts_per_mm=1000),
    "two-groups": BinaryLayout(kind=BinaryKind.TWO_GROUPS),
    "two-groups-swapped": BinaryLayout(kind=BinaryKind.TWO_GROUPS, display_first=True),
    "seven-digits": BinaryLayout(kind=BinaryKind.SEVEN_DIGITS),
    "host-clocked": BinaryLayout(kind=BinaryKind.HOST_CLOCKED),
}
LAYOUT_IN_WORDS: dict[str, Said] = {
    "plain": said("24 bits: 20 magnitude, then sign; the last: inch"),
    "sign-21": said("the same, the sign one bit later"),
    "leading-one": said("a bit that is always 1, then plain: 25 bits"),
    "leading-one-inside": said("a bit that is always 1, and 24 bits in all"),
    "no-unit": said("as plain without inch: always mm"),
    "micrometres": said("as plain, 0.001 mm a count"),
    "two-groups": said("48 bits, 20480 to the inch: absolute, then display"),
    "two-groups-swapped": said("the same, the display first"),
    "seven-digits": said("28 bits: six digits and four flags"),
    "host-clocked": said("21 bits at the reader's clock, 2560 to the inch"),
}
FRAME_LENGTHS = tuple(sorted({layout.frame_bits for layout in LAYOUTS.values()}))


def read_frame(word: int, bits: int, layout: BinaryLayout, *, proven: bool, channel: str = "") -> Indication | Fault:
    """Decode a frame; a number of a layout that is not proven becomes a fault that names it."""
    item = read_word(word, bits, layout, channel)
    if proven or isinstance(item, Fault):
        return item
    text = said(
        "{shown} {unit}, if its bits are laid out as set, which is not proven: compare with the instrument's display",
        shown=Number(item.shown),
        unit=Name(item.unit),
    )
    return Fault(reason=FaultReason.REFUSED, text=text, raw=f"{word:X}".encode(), channel=channel)


def read_word(word: int, bits: int, layout: BinaryLayout, channel: str = "") -> Indication | Fault:
    """Decode a frame of `bits` bits, the first on the wire being bit 0 of `word`."""
    raw = f"{word:X}".encode()
    if bits != layout.frame_bits or word >> bits:
        return _garbled(
            said(
                "a frame of {bits} bits: this layout has {layout}",
                bits=bits,
                layout=layout.frame_bits,
            ),
            raw,
            channel,
        )
    match layout.kind:
        case BinaryKind.MAGNITUDE:
            return _sign_and_magnitude(word, layout, raw, channel)
        case BinaryKind.TWO_GROUPS:
            group = word & (1 << GROUP_BITS) - 1 if layout.display_first else word >> GROUP_BITS
            return _complement(group, GROUP_BITS, TWO_GROUP_COUNTS_PER_INCH, 3, raw, channel)
        case BinaryKind.SEVEN_DIGITS:
            return _seven_digits(word, raw, channel)
        case BinaryKind.HOST_CLOCKED:
            return _complement(word, HOST_CLOCKED_BITS, HOST_CLOCKED_COUNTS_PER_INCH, 2, raw, channel)


def _garbled(text: Said, raw: bytes, channel: str) -> Fault:
    return Fault(reason=FaultReason.GARBLED, text=text, raw=raw, channel=channel)


def _sign_and_magnitude(word: int, layout: BinaryLayout, raw: bytes, channel: str) -> Indication | Fault:
    if layout.leading_one:
        if not word & 1:
            return _garbled(said("the leading bit must be 1"), raw, channel)
        word >>= 1
    unit_bit = 1 << layout.bits - layout.leading_one - 1
    used = MAGNITUDE | 1 << layout.sign_bit | (layout.unit_flag and unit_bit)
    if word & ~used:
        return _garbled(
            said("bits set that this layout leaves unused: another layout, or a damaged frame"), raw, channel
        )
    count = -(word & MAGNITUDE) if word >> layout.sign_bit & 1 else word & MAGNITUDE
    decimals = len(str(layout.counts_per_mm)) - 1
    if layout.unit_flag and word & unit_bit:
        inches = count / (layout.counts_per_mm * INCH_COUNTS_PER_MM_COUNT)
        return gated(inches, Unit.INCH, decimals + 2, raw=raw, channel=channel)
    return gated(count / layout.counts_per_mm, Unit.MM, decimals, raw=raw, channel=channel)


def _complement(
    group: int, bits: int, counts_per_inch: int, decimals: int, raw: bytes, channel: str
) -> Indication | Fault:
    counts = group - (1 << bits) if group >> bits - 1 else group
    shown = round(counts * MM_PER_INCH / counts_per_inch, decimals)
    return gated(shown, Unit.MM, decimals, raw=raw, channel=channel)


def _seven_digits(word: int, raw: bytes, channel: str) -> Indication | Fault:
    digits = [word >> 4 * place & 0xF for place in range(7)]
    *value, flags = digits
    if any(digit > 9 for digit in value) or flags & 8:
        return _garbled(said("a digit above 9, or a bit set that this layout leaves unused"), raw, channel)
    count = sum(digit * 10**place for place, digit in enumerate(value))
    negative, half, metric = flags & 1, flags & 2, flags & 4
    sign = -1.0 if negative else 1.0
    text = "".join(str(digit) for digit in reversed(value))
    if metric:
        if half:
            return _garbled(said("half a digit in mm: another layout, or a damaged frame"), raw, channel)
        return gated(sign * count / 100, Unit.MM, 2, digits=text, raw=raw, channel=channel)
    return gated(sign * (count + (0.5 if half else 0.0)) / 1000, Unit.INCH, 4, raw=raw, channel=channel)

"""Stage: frames of the 52-bit SPC output to indications. Input: 13 digits of four bits, d1 to d13; output: an
indication or a fault. Source: the pages on this statistical-process-control output in the public manuals of a measuring
projector and of a laser gauge; its later version from memory.

d1-d4 = F; d5 sign (0 plus, 8 minus); d6-d11 six BCD digits, most significant first; d12 number of decimals (0 to 5);
d13 unit (0 mm, 1 inch) or, on gauges that judge, unit and judgement (2 to 4 mm, 5 to 7 inch: above, in, below
tolerance). A later version of the output begins with 8 and F, and d3 and d4 are two digits before d6. On the wire each
digit comes least significant bit first. The format has no checksum: the fixed digits and the BCD range are all there is
to test, so everything else is refused.
"""

from collections.abc import Sequence

from core.metrology import Indication, Unit
from core.said import Name, Said, said
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.plausible import gated

FRAME_DIGITS = 13
_SIGNS = {0: 1.0, 8: -1.0}
# The judgement is that of the gauge's own limits, and says nothing about the coupon. One maker writes 8 for inch:
# refused, not guessed.
_UNITS = {0: Unit.MM, 1: Unit.INCH} | dict.fromkeys((2, 3, 4), Unit.MM) | dict.fromkeys((5, 6, 7), Unit.INCH)
_BEGIN = (0xF, 0xF, 0xF, 0xF)
_BEGIN_OF_EIGHT = (0x8, 0xF)


def digits_from_word(word: int) -> tuple[int, ...]:
    """The 13 digits of a frame whose first bit on the wire is bit 0 of `word`."""
    return tuple(word >> 4 * index & 0xF for index in range(FRAME_DIGITS))


def read_digits(digits: Sequence[int], channel: str = "") -> Indication | Fault:
    """Decode d1 to d13."""
    raw = "".join(f"{digit:X}" for digit in digits).encode()

    def fault(reason: FaultReason, text: Said) -> Fault:
        return Fault(reason=reason, text=text, raw=raw, channel=channel)

    begin = tuple(digits[:4])
    if len(digits) != FRAME_DIGITS or (begin != _BEGIN and begin[:2] != _BEGIN_OF_EIGHT):
        return fault(FaultReason.GARBLED, said("a 52-bit frame must begin with four digits F, or with 8 and F"))
    further = () if begin == _BEGIN else begin[2:]
    sign, value_digits, decimals, unit_digit = digits[4], (*further, *digits[5:11]), digits[11], digits[12]
    if sign not in _SIGNS:
        return fault(FaultReason.GARBLED, said("sign digit {digit}: it must be 0 or 8", digit=Name(f"{sign:X}")))
    if any(digit > 9 for digit in value_digits):
        return fault(FaultReason.GARBLED, said("a value digit above 9"))
    if decimals > 5:
        return fault(FaultReason.GARBLED, said("{decimals} decimals: it must be 0 to 5", decimals=decimals))
    if unit_digit not in _UNITS:
        return fault(
            FaultReason.REFUSED, said("unit digit {digit}: only 0 to 7 are understood", digit=Name(f"{unit_digit:X}"))
        )
    text = "".join(str(digit) for digit in value_digits)
    shown = _SIGNS[sign] * int(text) / 10**decimals
    return gated(shown, _UNITS[unit_digit], decimals, digits=text, raw=raw, channel=channel)

"""What every decoder asks before it believes a number: can any instrument show it, and is it in keeping with the last.

Without a checksum this is all a decoder can do alone; the bench's range for the feature and the steady hold follow.
"""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from core.metrology import Indication, Unit
from core.said import Angle, Name, Number, Said, said
from firmware_bridge.decoders.fault import Fault, FaultReason

# Farther than any caliper, tape or height gauge of a workshop reaches: an error code in a number's clothes.
MAX_LENGTH_MM = 5000.0
MAX_ANGLE_DEG = 360.0
# A failing battery lights every segment. Fewer digits than this may be an honest 88.88.
DISPLAY_TEST_DIGITS = 6


def gated(
    shown: float, unit: Unit, decimals: int, *, raw: bytes, digits: str = "", channel: str = ""
) -> Indication | Fault:
    """An indication, or a fault where no instrument can honestly show this; `digits` are the digits as displayed."""
    what: Said | None = None
    if len(digits) >= DISPLAY_TEST_DIGITS and not digits.strip("8"):
        what = said("all eights: the display test of a failing battery")
    elif unit is Unit.DEG:
        if abs(shown) > MAX_ANGLE_DEG:
            what = said("{shown} is more than a full turn", shown=Angle(shown, None))
    elif abs(unit.to_internal(shown)) > MAX_LENGTH_MM:
        what = said("{shown} {unit} is longer than any caliper", shown=Number(shown), unit=Name(unit))
    if what is not None:
        return Fault(reason=FaultReason.REFUSED, text=what, raw=raw, channel=channel)
    return Indication(shown=shown + 0.0, unit=unit, decimals=decimals, channel=channel)


class LineStyle(Struct, frozen=True, kw_only=True):
    """How a line is written. `signed`: a place for the sign before a positive number, None where the line does not
    tell; `width` characters stand before the point, the same on every line where it is `padded`."""

    decimals: int
    signed: bool | None = None
    padded: bool = False
    width: int = 1
    unit_written: bool = False

    def fits(self, other: LineStyle) -> bool:
        """True when one instrument can have written both."""
        return self == other or (
            self.decimals == other.decimals
            and self.unit_written == other.unit_written
            and (self.signed is None or other.signed is None or self.signed == other.signed)
            and self._keeps_width(other)
        )

    def _keeps_width(self, other: LineStyle) -> bool:
        """A padded line is as wide as the next; only a number too large for its field is wider, and not padded."""
        if other.padded:
            return other.width == self.width or (not self.padded and other.width > self.width)
        return not self.padded or other.width >= self.width

    def learning(self, other: LineStyle) -> LineStyle:
        """This style with what a line in keeping adds to it."""
        if other == self:
            return self
        return replace(
            self,
            signed=other.signed if self.signed is None else self.signed,
            padded=self.padded or other.padded,
            width=other.width if other.padded else self.width if self.padded else max(self.width, other.width),
        )


class StyleGate:
    """An instrument writes one line as it writes the next. The first line written otherwise is refused (a character
    may have been lost on the way), the second one alike believed (its resolution was switched)."""

    # More channels than any multiplexer has: a stream of garbage must not grow this without end.
    MAX_CHANNELS = 64

    def __init__(self) -> None:
        self._believed: dict[tuple[str, Unit], LineStyle] = {}
        self._unit_written: dict[str, bool] = {}
        self._odd: dict[str, tuple[Unit, LineStyle]] = {}

    def check(self, item: Indication | Fault, raw: bytes, style: LineStyle) -> Indication | Fault:
        """Pass faults and indications in keeping; turn an odd one into a fault."""
        if isinstance(item, Fault):
            return item
        channel, key = item.channel, (item.channel, item.unit)
        if len(self._believed) >= self.MAX_CHANNELS and key not in self._believed:
            self.reset()
        if style.decimals != item.decimals:
            style = replace(style, decimals=item.decimals)
        believed = self._believed.get(key, style)
        if believed.fits(style) and self._unit_written.setdefault(channel, style.unit_written) == style.unit_written:
            self._believed[key] = believed.learning(style)
            self._odd.pop(channel, None)
            return item
        odd = self._odd.get(channel)
        if odd is not None and odd[0] is item.unit and odd[1].fits(style):
            self._believed[key] = odd[1].learning(style)
            self._unit_written[channel] = style.unit_written
            return item
        self._odd[channel] = item.unit, style
        text = said("written otherwise than the lines before it: a character may have been lost")
        if style.decimals != believed.decimals:
            text = said(
                "{decimals} decimals after lines with {before}: a digit may have been lost",
                decimals=style.decimals,
                before=believed.decimals,
            )
        return Fault(reason=FaultReason.REFUSED, text=text, raw=raw, channel=channel)

    def reset(self) -> None:
        """Forget what was usual (after the link was lost, another instrument may be on it)."""
        self._believed.clear()
        self._unit_written.clear()
        self._odd.clear()

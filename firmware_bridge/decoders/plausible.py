"""What every decoder asks before it believes a number: can any instrument show it, and is it in keeping with the last.

Without a checksum this is all a decoder can do alone; the bench's range for the feature and the steady hold follow.
"""

from __future__ import annotations

from core.metrology.readings import Indication, Quantity, Unit
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

    def refused(text: str) -> Fault:
        return Fault(reason=FaultReason.REFUSED, text=text, raw=raw, channel=channel)

    if len(digits) >= DISPLAY_TEST_DIGITS and set(digits) == {"8"}:
        return refused("all eights: the display test of a failing battery")
    if unit.quantity is Quantity.LENGTH and abs(unit.to_internal(shown)) > MAX_LENGTH_MM:
        return refused(f"{shown:g} {unit} is longer than any caliper")
    if unit.quantity is Quantity.ANGLE and abs(shown) > MAX_ANGLE_DEG:
        return refused(f"{shown:g} degrees is more than a full turn")
    return Indication(shown=shown + 0.0, unit=unit, decimals=decimals, channel=channel)


class DigitsGate:
    """An instrument shows the same number of decimals from line to line. The first line with another number is
    refused (a digit may have been lost on the way), the second one believed (its resolution was switched)."""

    # More channels than any multiplexer has: a stream of garbage must not grow this without end.
    MAX_CHANNELS = 64

    def __init__(self) -> None:
        self._believed: dict[tuple[str, Unit], int] = {}
        self._odd: dict[tuple[str, Unit], int] = {}

    def check(self, item: Indication | Fault, raw: bytes) -> Indication | Fault:
        """Pass faults and indications in keeping; turn an odd one into a fault."""
        if isinstance(item, Fault):
            return item
        key = (item.channel, item.unit)
        if len(self._believed) >= self.MAX_CHANNELS and key not in self._believed:
            self.reset()
        believed = self._believed.setdefault(key, item.decimals)
        if item.decimals == believed:
            self._odd.pop(key, None)
            return item
        if self._odd.get(key) == item.decimals:
            self._believed[key] = item.decimals
            return item
        self._odd[key] = item.decimals
        text = f"{item.decimals} decimals after lines with {believed}: a digit may have been lost"
        return Fault(reason=FaultReason.REFUSED, text=text, raw=raw, channel=item.channel)

    def reset(self) -> None:
        """Forget what was usual (after the link was lost, another instrument may be on it)."""
        self._believed.clear()
        self._odd.clear()

"""An instrument that types, where its keyboard cannot be taken exclusively: keys come through the focused window.

Input: characters with times, as the window gives them. Output: link events. Pure. Only what is typed as fast as no
person types is an instrument's: a pause between two keys of a number forgets it.
"""

from collections.abc import Iterator

from core.metrology import Quantity
from firmware_bridge.byte_link import FaultSeen, IndicationArrived
from firmware_bridge.indications import Arrivals
from firmware_bridge.instrument_settings import Capture, InstrumentSettings, Sends

# Instruments leave some milliseconds between keys, people a tenth of a second and more.
GAP_S = 0.05
NAME = "typing instrument"
FORMATS = {Quantity.LENGTH: "typed-length", Quantity.ANGLE: "typed-angle"}


class FocusedKeyboard:
    """Which quantity a number is cannot be seen in it: the caller says which cursor is in hand."""

    def __init__(self) -> None:
        self._arrivals = {
            quantity: Arrivals(
                InstrumentSettings(
                    name=NAME,
                    port="window",
                    format_name=format_name,
                    quantity=quantity,
                    sends=Sends.BUTTON,
                    capture=Capture.DATA_BUTTON,
                )
            )
            for quantity, format_name in FORMATS.items()
        }
        self._typed = ""
        self._last_s = float("-inf")

    def key(self, character: str, quantity: Quantity, now_s: float) -> Iterator[IndicationArrived | FaultSeen]:
        """Take one character; Enter is CR, Tab is HT. A lone Enter or Tab is a person's and gives nothing."""
        if now_s - self._last_s > GAP_S:
            self._typed = ""
        self._last_s = now_s
        if character not in ("\r", "\t"):
            # No number is longer; keys held down must not grow this without end.
            self._typed = (self._typed + character)[-32:]
            return
        number, self._typed = self._typed, ""
        if len(number) > 1:
            arrivals = self._arrivals[quantity]
            arrivals.reset()
            yield from arrivals.feed(f"{number}\r".encode("ascii", "replace"), now_s)

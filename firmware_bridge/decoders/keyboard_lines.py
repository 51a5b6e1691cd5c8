"""Line formats of instruments that type like a keyboard: digits, sign, point or comma, then Enter or Tab.

Rows of the one grammar of ascii_lines. The keyboard link waits for a pause before it hands keys on, so that a number
half typed when the cable came up never gets here.
"""

from __future__ import annotations

import re

from core.metrology.readings import Indication, Quantity
from firmware_bridge.decoders.ascii_lines import LineDecoder, LineGrammar
from firmware_bridge.decoders.fault import Fault

_NUMBER = re.compile(rb" *(?P<sign>[+-]?)(?P<number>\d{1,4}[.,]\d{1,4}) *")
LENGTH = LineGrammar(pattern=_NUMBER, anchored=True, quantity=Quantity.LENGTH)
ANGLE = LineGrammar(pattern=_NUMBER, anchored=True, quantity=Quantity.ANGLE)


class KeyboardDecoder(LineDecoder):
    """A line decoder for which Tab ends a line as Enter does."""

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take typed characters; return what became complete, in order."""
        return super().feed(data.replace(b"\t", b"\r"))

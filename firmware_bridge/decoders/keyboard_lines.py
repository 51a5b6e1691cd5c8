"""Line formats of instruments that type like a keyboard: digits, sign, point or comma, then Enter or Tab.

The same grammars as on a wire. The keyboard link waits for a pause before it hands keys on, so that a number half typed
when the cable came up never gets here: the first line is as good as the next.
"""

from core.metrology.readings import Indication
from firmware_bridge.decoders.ascii_lines import LineDecoder
from firmware_bridge.decoders.fault import Fault


class KeyboardDecoder(LineDecoder):
    """A line decoder for which Tab ends a line as Enter does."""

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take typed characters; return what became complete, in order."""
        return super().feed(data.replace(b"\t", b"\r"))

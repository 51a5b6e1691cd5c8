"""Whether a cable says more than any instrument can: then it is muted, whatever it says.

Stage: in front of the decoder. Input: how many bytes came, and when. Output: whether to listen on. Pure: no clock.
The fastest line an instrument has, 115200 baud, carries 11.5 kB a second; instruments send a few hundred bytes.
"""

from core.said import said

MOST_BYTES = 20_000
WITHIN_S = 1.0
# How long a muted cable is left alone before it is listened to again.
MUTED_S = 3.0
MUTED = said("muted: it sends more than any instrument does; pull it, or look what is on it")


class FloodGate:
    """Counts within windows of WITHIN_S."""

    def __init__(self) -> None:
        self._since_s = float("-inf")
        self._bytes = 0
        self.muted = False

    def passes(self, count: int, now_s: float) -> bool:
        """Whether what has just come may be decoded; False while it is a flood, and until a window without one."""
        if now_s - self._since_s >= WITHIN_S:
            self.muted = self.muted and self._bytes > MOST_BYTES
            self._since_s, self._bytes = now_s, 0
        self._bytes += count
        if self._bytes > MOST_BYTES:
            self.muted = True
        return not self.muted

"""Stage: indications to "take". Pure: fed values with times, says how far a hold has come and when to take it, once.

A hold is a stretch in which the values stay within a band for a time, inside the range the caller calls plausible.
After a take the value must leave by `rearm` before another can be taken: nothing is taken twice from one hold.
"""

from collections import deque

from msgspec import Struct

from firmware_bridge.instrument_settings import HoldSettings

# A hold seen through fewer indications than this is no evidence that anything stood still.
MIN_INDICATIONS = 3
# At 50 indications a second this is 80 seconds; the window is trimmed to the hold's time long before.
MAX_INDICATIONS = 4096


class HoldStep(Struct, frozen=True, kw_only=True):
    """`fraction` of the hold's time reached, 0 to 1; `take` is True once per hold, with the `value` to be taken: the
    median of the hold's indications, one that was really shown, so that a last line damaged by a digit is not it."""

    fraction: float
    take: bool
    value: float | None = None


NOT_HELD = HoldStep(fraction=0.0, take=False)
TAKEN_ALREADY = HoldStep(fraction=1.0, take=False)


class SteadyHold:
    """One instrument's hold; values in mm or degrees, times in seconds of any monotonic clock."""

    def __init__(self, settings: HoldSettings) -> None:
        self._settings = settings
        # The comparison forgives the last binary digit: 0.03 apart is within a band of 0.03.
        self._band = settings.band * (1.0 + 1e-9) + 1e-9
        self._times_s: deque[float] = deque(maxlen=MAX_INDICATIONS)
        self._values: deque[float] = deque(maxlen=MAX_INDICATIONS)
        self._taken: float | None = None

    @property
    def armed(self) -> bool:
        """False from a take until the value has left it."""
        return self._taken is None

    def feed(self, value: float, at_s: float, plausible: tuple[float, float]) -> HoldStep:
        """Take one indication; `plausible` is the lowest and highest value that may be taken for the feature that
        is up (an empty range, low > high, when none is)."""
        if self._taken is not None and abs(value - self._taken) > self._settings.rearm:
            self._taken = None
        if self._taken is not None:
            self.reset()
            return TAKEN_ALREADY
        if not plausible[0] <= value <= plausible[1]:
            self.reset()
            return NOT_HELD
        self._extend(value, at_s)
        held_s = at_s - self._times_s[0]
        fraction = min(1.0, held_s / self._settings.time_s + 1e-9)
        if fraction < 1.0 or len(self._values) < MIN_INDICATIONS:
            return HoldStep(fraction=min(fraction, 0.99), take=False)
        from statistics import median_low  # loaded with the first hold

        middle = median_low(self._values)
        self.mark_taken(middle)
        return HoldStep(fraction=1.0, take=True, value=middle)

    def mark_taken(self, value: float) -> None:
        """A reading of this value was taken (here, by data button, pedal or touch): this hold gives no other."""
        self._taken = value
        self.reset()

    def reset(self) -> None:
        """Begin anew, as after the cable was lost; a value taken stays taken."""
        self._times_s.clear()
        self._values.clear()

    def _extend(self, value: float, at_s: float) -> None:
        """Append, then drop from the old end what breaks the band; a gap as long as the hold itself begins anew."""
        times_s, values, time_s = self._times_s, self._values, self._settings.time_s
        if times_s and not 0.0 <= at_s - times_s[-1] < time_s:
            self.reset()
        times_s.append(at_s)
        values.append(value)
        # The oldest goes while it is not needed: the hold is as long without it, or what is left of it no hold with it.
        while max(values) - min(values) > self._band or (len(times_s) > 1 and at_s - times_s[1] >= time_s):
            times_s.popleft()
            values.popleft()

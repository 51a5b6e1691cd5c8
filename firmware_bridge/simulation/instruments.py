"""Virtual instruments that write their real wire formats. Pure in time: told the time, never asking for it.

`held` is what lies between the jaws: the true value the instrument would show without error. Zero error, linearity
(a scale error growing with the value), seating scatter and resolution come on top.
"""

import random
from collections.abc import Callable

from msgspec import Struct

Write = Callable[[bytes], None]


class InstrumentErrors(Struct, frozen=True, kw_only=True):
    """Hidden truth of one instrument, in mm or degrees; `scale` is a fraction, `seating_sd` the scatter from one
    seating to the next, `flicker_sd` that of the number while nothing moves."""

    resolution: float
    zero: float = 0.0
    scale: float = 0.0
    seating_sd: float = 0.0
    flicker_sd: float = 0.0


class _Instrument:
    """What caliper and gauge share: a held value, and the number on the display."""

    def __init__(self, errors: InstrumentErrors, write: Write, seed: int) -> None:
        self._errors = errors
        self._write = write
        # Two streams: how often the display flickers must not change what the next seating gives.
        self._seatings = random.Random(f"seating {seed}")
        self._flicker = random.Random(f"flicker {seed}")
        self._seating = 0.0
        self.held = 0.0

    def seat(self) -> None:
        """The jaws (or blades) are put on anew: this seating's scatter is drawn."""
        self._seating = self._seatings.gauss(0.0, self._errors.seating_sd)

    def shown(self) -> float:
        """The number on the display, a whole multiple of the resolution."""
        errors = self._errors
        exact = self.held * (1.0 + errors.scale) + errors.zero + self._seating
        return round((exact + self._flicker.gauss(0.0, errors.flicker_sd)) / errors.resolution) * errors.resolution


class VirtualCaliper(_Instrument):
    """Sign and 3.3 digits, CR; answers the request `?` CR and sends the same line when its data button is pressed."""

    def receive(self, data: bytes) -> None:
        """Take what the host sent; each request is answered once."""
        for _ in range(data.count(b"?\r")):
            self._send()

    def press_data_button(self) -> None:
        """The person presses the button on the caliper."""
        self._send()

    def _send(self) -> None:
        self._write(f"{self.shown():+08.3f}\r".encode())


class VirtualGauge(_Instrument):
    """`X=`, sign and 2.3 digits, CRLF, streaming at `rate_hz` whether or not anybody listens."""

    def __init__(self, errors: InstrumentErrors, write: Write, seed: int, rate_hz: float = 10.0) -> None:
        super().__init__(errors, write, seed)
        self._interval_s = 1.0 / rate_hz
        self._next_s: float | None = None

    def tick(self, now_s: float) -> None:
        """Send the line due by `now_s`, if one is; after a pause of the simulation the missed lines are not made up."""
        if self._next_s is None or now_s - self._next_s > 1.0:
            self._next_s = now_s
        if now_s >= self._next_s:
            self._next_s += self._interval_s
            self._write(f"X={self.shown():+07.3f}\r\n".encode())

"""The lamp box on the GPIO header: three lamps, a buzzer, a pedal and two buttons.

Stage: hardware. Input: lamp patterns and rhythms of the bench's snapshot (ui/bench/lamps.py), the clock by `tick`.
Output: pins, and the buttons pressed. Lamp colours and meanings follow IEC 60073 (green safe, red danger, yellow
caution; from memory). Nothing here ever raises: a panel that is absent or fails falls silent and says why in `fault`.
"""

from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct

from hardware.gpio_port import GpioError, GpioPort
from hardware.pins import BUTTONS, LAMPS, PINS, Line

DEBOUNCE_S = 0.05
LAMP_TEST_S = 1.0
# Period, and how long of it the lamp is lit, s. None is faster than three flashes a second (WCAG 2, 2.3.1).
CONTRADICTION_BLINK, FEATURE_BLINK, QUICK_CHECK_BLINK = (0.5, 0.25), (1.0, 0.5), (3.0, 2.0)


class Lamps(StrEnum):
    """What the lamps say; never more than one lamp at a time, except in the lamp test.

    Steady for the coupon; blinking for the feature under the jaws; a quick check's GO blinks slowly, for shape and size
    were not measured.
    """

    OFF = "off"
    GO = "go"
    NO_GO = "no-go"
    UNDECIDED = "undecided"
    CONTRADICTION = "contradiction"  # the undecided lamp, flashing: no reading here can be believed yet
    QUICK_CHECK_GO = "quick-check-go"
    FEATURE_GO = "feature-go"
    FEATURE_NO_GO = "feature-no-go"
    FEATURE_UNDECIDED = "feature-undecided"


_LIT = {
    Lamps.OFF: None,
    Lamps.GO: Line.LAMP_GO,
    Lamps.NO_GO: Line.LAMP_NO_GO,
    Lamps.UNDECIDED: Line.LAMP_UNDECIDED,
    Lamps.CONTRADICTION: Line.LAMP_UNDECIDED,
    Lamps.QUICK_CHECK_GO: Line.LAMP_GO,
    Lamps.FEATURE_GO: Line.LAMP_GO,
    Lamps.FEATURE_NO_GO: Line.LAMP_NO_GO,
    Lamps.FEATURE_UNDECIDED: Line.LAMP_UNDECIDED,
}
_BLINK = {
    Lamps.CONTRADICTION: CONTRADICTION_BLINK,
    Lamps.QUICK_CHECK_GO: QUICK_CHECK_BLINK,
    Lamps.FEATURE_GO: FEATURE_BLINK,
    Lamps.FEATURE_NO_GO: FEATURE_BLINK,
    Lamps.FEATURE_UNDECIDED: FEATURE_BLINK,
}


class Rhythm(StrEnum):
    """What the buzzer says. They differ by number and length of sounds, never by pitch: hearing protection is worn."""

    TAKEN = "taken"
    REFUSED = "refused"
    QUESTION = "question"
    GO = "go"
    NO_GO = "no-go"
    CONTRADICTION = "contradiction"


SHORT_S, LONG_S, PAUSE_S = 0.1, 0.5, 0.15
# Lengths of the sounds in seconds, with PAUSE_S between them.
RHYTHMS: dict[Rhythm, tuple[float, ...]] = {
    Rhythm.TAKEN: (SHORT_S,),
    Rhythm.REFUSED: (SHORT_S, SHORT_S),
    Rhythm.QUESTION: (SHORT_S, LONG_S),
    Rhythm.GO: (LONG_S,),
    Rhythm.NO_GO: (LONG_S, LONG_S, LONG_S),
    Rhythm.CONTRADICTION: (SHORT_S, SHORT_S, SHORT_S, SHORT_S, SHORT_S),
}


class Debounced(Struct):
    """One button: a press counts when the contact has been closed for DEBOUNCE_S, after having been open as long."""

    _closed: bool = True  # held down at power-on: no press until it was let go
    _candidate: bool = True
    _since_s: float = 0.0

    def feed(self, closed: bool, now_s: float) -> bool:
        """Take the contact's state at `now_s`; True once per press."""
        if closed != self._candidate:
            self._candidate, self._since_s = closed, now_s
        if self._candidate == self._closed or now_s - self._since_s < DEBOUNCE_S:
            return False
        self._closed = self._candidate
        return self._closed


class Panel:
    """Drives the box; `tick` is called from the program's loop, ten times a second or more often."""

    def __init__(self, port: GpioPort | None, *, absent: str = "") -> None:
        """`port` None means that there are no pins here; `absent` then says why."""
        self._port = port
        self.fault = "" if port else absent or "no GPIO here"
        self._lamps = Lamps.OFF
        self._test_until_s: float | None = None
        self._sounds: list[tuple[float, bool]] = []  # (when, on), in order
        self._written: dict[Line, bool] = {}
        self._buttons: dict[Line, Debounced] = {}

    def start(self, now_s: float) -> None:
        """Claim the pins, and light every lamp with one short sound so that a dead lamp is seen."""
        try:
            if self._port:
                self._port.set_up(pin.line for pin in PINS)
        except GpioError as error:
            self._fall_silent(error)
        self._written = {pin.line: False for pin in PINS if pin.output}
        self._buttons = {line: Debounced() for line in BUTTONS}
        self._test_until_s = now_s + LAMP_TEST_S
        self.sound(Rhythm.TAKEN, now_s)
        self.tick(now_s)

    def show(self, lamps: Lamps) -> None:
        """What the lamps say from the next tick on."""
        self._lamps = lamps

    def sound(self, rhythm: Rhythm, now_s: float) -> None:
        """Begin this rhythm now; one that is still sounding is cut off, the newest word counts."""
        self._sounds = [(now_s, False)]
        at_s = now_s + (PAUSE_S if self._written.get(Line.BUZZER) else 0.0)
        for length_s in RHYTHMS[rhythm]:
            self._sounds += [(at_s, True), (at_s + length_s, False)]
            at_s += length_s + PAUSE_S

    def tick(self, now_s: float) -> tuple[Line, ...]:
        """Bring the outputs up to the moment `now_s`; returns the buttons pressed since the last tick."""
        if self._port is None:
            return ()
        try:
            self._write_all(self._lit_lamps(now_s), LAMPS)
            self._write_all({Line.BUZZER} if self._next_buzzer_level(now_s) else set(), (Line.BUZZER,))
            return tuple(line for line in BUTTONS if self._buttons[line].feed(not self._port.read(line), now_s))
        except GpioError as error:
            self._fall_silent(error)
            return ()

    def close(self) -> None:
        """All off, pins given back."""
        port, self._port = self._port, None
        if port:
            try:
                port.close()
            except GpioError as error:
                self.fault = str(error)

    def _lit_lamps(self, now_s: float) -> set[Line]:
        if self._test_until_s is not None and now_s < self._test_until_s:
            return set(LAMPS)
        self._test_until_s = None
        lit = _LIT[self._lamps]
        period_s, lit_s = _BLINK.get(self._lamps, (1.0, 1.0))
        return set() if lit is None or now_s % period_s >= lit_s else {lit}

    def _next_buzzer_level(self, now_s: float) -> bool:
        # A step that fell between two ticks is not skipped but made up at the next one: a rhythm keeps its number.
        while self._sounds and self._sounds[0][0] <= now_s:
            _, on = self._sounds.pop(0)
            if on != self._written[Line.BUZZER]:
                return on
        return self._written[Line.BUZZER]

    def _write_all(self, high: set[Line], lines: Iterable[Line]) -> None:
        assert self._port is not None
        for line in lines:
            if self._written[line] != (line in high):
                self._port.write(line, line in high)
                self._written[line] = line in high

    def _fall_silent(self, error: GpioError) -> None:
        self.close()
        self.fault = str(error)

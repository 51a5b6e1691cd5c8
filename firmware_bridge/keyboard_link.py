"""An instrument that types, as a cable: taken exclusively, so that nothing it types reaches a button or a console.

Input: a keyboard under /dev/input by stable path; output: the characters typed, Enter as CR and Tab as HT. Keys are
handed on only after a pause, so that a number half typed when the cable came up never reaches a decoder.
"""

import time
from collections.abc import Callable

import evdev
from evdev import ecodes

# An instrument types its digits within a few milliseconds of each other.
PAUSE_S = 0.3

_DIGITS = "1234567890"
_PLAIN = (
    {getattr(ecodes, f"KEY_{digit}"): digit for digit in _DIGITS}
    | {getattr(ecodes, f"KEY_KP{digit}"): digit for digit in _DIGITS}
    | {getattr(ecodes, f"KEY_{letter}"): letter.lower() for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
    | {
        ecodes.KEY_MINUS: "-",
        ecodes.KEY_KPMINUS: "-",
        ecodes.KEY_KPPLUS: "+",
        ecodes.KEY_EQUAL: "=",
        ecodes.KEY_DOT: ".",
        ecodes.KEY_KPDOT: ".",
        ecodes.KEY_COMMA: ",",
        ecodes.KEY_KPCOMMA: ",",
        ecodes.KEY_SPACE: " ",
        ecodes.KEY_ENTER: "\r",
        ecodes.KEY_KPENTER: "\r",
        ecodes.KEY_TAB: "\t",
    }
)
_SHIFTED = {ecodes.KEY_EQUAL: "+"}
_SHIFTS = (ecodes.KEY_LEFTSHIFT, ecodes.KEY_RIGHTSHIFT)
# A key that types nothing we know still spoils the number it stands in.
_UNKNOWN = "?"
_PRESSED, _RELEASED = 1, 0


class KeyboardCable:
    """A keyboard, taken for this program alone unless `exclusive` is False."""

    def __init__(self, path: str, clock: Callable[[], float] = time.monotonic, *, exclusive: bool = True) -> None:
        self._device = evdev.InputDevice(path)
        try:
            if exclusive:
                self._device.grab()
        except OSError:
            self._device.close()
            raise
        self._clock = clock
        self._shifted = False
        self._paused = False
        self._last_s = clock()

    def fileno(self) -> int:
        """Descriptor to wait on."""
        return int(self._device.fileno())

    def read(self) -> bytes:
        """The characters typed since the last call; raises OSError (ENODEV) when the keyboard is gone."""
        typed = "".join(self._typed(event) for event in self._device.read())
        now_s = self._clock()
        self._paused = self._paused or now_s - self._last_s >= PAUSE_S
        self._last_s = now_s
        return typed.encode("ascii") if self._paused else b""

    def write(self, data: bytes) -> None:
        """Nothing: a keyboard cannot be asked (its settings refuse it)."""

    def close(self) -> None:
        """Give the keyboard back; raises nothing."""
        try:
            self._device.close()
        except OSError:
            return

    def _typed(self, event: evdev.InputEvent) -> str:
        if event.type == ecodes.EV_SYN and event.code == ecodes.SYN_DROPPED:
            return _UNKNOWN  # the kernel's buffer ran over: keys are missing here
        if event.type != ecodes.EV_KEY:
            return ""
        if event.code in _SHIFTS:
            self._shifted = event.value != _RELEASED
            return ""
        if event.value != _PRESSED:
            return ""
        shifted = _SHIFTED.get(event.code) if self._shifted else None
        return shifted or _PLAIN.get(event.code, _UNKNOWN)

"""What the person at the bench has at hand, plugged in through uinput: a multi-touch panel and a keyboard."""

from __future__ import annotations

import time

import evdev
from evdev import ecodes

FINGERS = 9


class Panel:
    """A panel that reports each finger as the kernel's multi-touch protocol B does; px from its own upper left."""

    def __init__(self, width: int, height: int) -> None:
        across, down = evdev.AbsInfo(0, 0, width - 1, 0, 0, 0), evdev.AbsInfo(0, 0, height - 1, 0, 0, 0)
        axes = [
            (ecodes.ABS_X, across),
            (ecodes.ABS_Y, down),
            (ecodes.ABS_MT_SLOT, evdev.AbsInfo(0, 0, FINGERS, 0, 0, 0)),
            (ecodes.ABS_MT_TRACKING_ID, evdev.AbsInfo(0, 0, 65535, 0, 0, 0)),
            (ecodes.ABS_MT_POSITION_X, across),
            (ecodes.ABS_MT_POSITION_Y, down),
        ]
        self._device = evdev.UInput(
            {ecodes.EV_ABS: axes, ecodes.EV_KEY: [ecodes.BTN_TOUCH]},
            name="kiosk test panel",
            input_props=[ecodes.INPUT_PROP_DIRECT],
        )
        self._finger = 0

    def press(self, x: int, y: int) -> None:
        """Put a finger down; the axes of a mouse follow it, as the drivers of panels let them."""
        self._finger += 1
        self._write(
            (ecodes.ABS_MT_TRACKING_ID, self._finger),
            (ecodes.ABS_MT_POSITION_X, x),
            (ecodes.ABS_MT_POSITION_Y, y),
            (ecodes.ABS_X, x),
            (ecodes.ABS_Y, y),
            touching=1,
        )

    def lift(self) -> None:
        """Take it off."""
        self._write((ecodes.ABS_MT_TRACKING_ID, -1), touching=0)

    def tap(self, x: int, y: int, held_s: float = 0.15) -> None:
        """Down and up."""
        self.press(x, y)
        time.sleep(held_s)
        self.lift()

    def close(self) -> None:
        """Unplug it."""
        self._device.close()

    def _write(self, *values: tuple[int, int], touching: int) -> None:
        for code, value in values:
            self._device.write(ecodes.EV_ABS, code, value)
        self._device.write(ecodes.EV_KEY, ecodes.BTN_TOUCH, touching)
        self._device.syn()


class Keyboard:
    """A whole keyboard."""

    def __init__(self, name: str = "kiosk test keyboard") -> None:
        keys = [code for code in ecodes.KEY if code < ecodes.KEY_MICMUTE]
        self._device = evdev.UInput({ecodes.EV_KEY: keys}, name=name)

    @property
    def path(self) -> str:
        """Where the kernel shows it."""
        return str(self._device.device.path)

    def strike(self, *keys: int, held_s: float = 0.1) -> None:
        """Press these together and let go."""
        for pressed, order in ((1, keys), (0, keys[::-1])):
            for key in order:
                self._device.write(ecodes.EV_KEY, key, pressed)
                self._device.syn()
            time.sleep(held_s)

    def burst(self, digits: str) -> None:
        """Type a number and Enter as an instrument does: a few milliseconds from key to key."""
        names = {".": "DOT"}
        for code in [getattr(ecodes, f"KEY_{names.get(digit, digit)}") for digit in digits] + [ecodes.KEY_ENTER]:
            self.strike(code, held_s=0.004)

    def close(self) -> None:
        """Unplug it."""
        self._device.close()

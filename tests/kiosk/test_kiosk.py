"""The kiosk on a real kernel: Kivy on a bare panel, fingers through the kernel's input layer, a whole session by touch.

Needs a graphics card with a panel and uinput, as on a Pi without a desktop; skipped elsewhere. No mock anywhere: each
tap is a multi-touch report of a device, read by libmtdev, that presses a real button.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ui.display import has_display

evdev = pytest.importorskip("evdev")
ecodes = evdev.ecodes
ROOT = Path(__file__).resolve().parents[2]
WIDTH, HEIGHT = 800, 480
# An emulated processor is ten times slower than a Pi; nothing timed here is a figure.
PATIENCE_S = 240.0

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(1500),
    pytest.mark.skipif(not os.access("/dev/uinput", os.W_OK), reason="no uinput here"),
    pytest.mark.skipif(not has_display({}), reason="no panel without a desktop here"),
]

# A coupon of 120 x 80 mm with a skew of about -0.35 degrees, as a good hand would read it. SIMULATED.
LENGTHS = ("143.62", "144.43", "119.85", "79.86", "119.87", "79.84")
CORNERS = ("90.4", "89.6", "90.3", "89.7")


class Panel:
    """A multi-touch panel and a keyboard, plugged in through uinput."""

    def __init__(self) -> None:
        axes = [
            (ecodes.ABS_X, evdev.AbsInfo(0, 0, WIDTH - 1, 0, 0, 0)),
            (ecodes.ABS_Y, evdev.AbsInfo(0, 0, HEIGHT - 1, 0, 0, 0)),
            (ecodes.ABS_MT_SLOT, evdev.AbsInfo(0, 0, 9, 0, 0, 0)),
            (ecodes.ABS_MT_TRACKING_ID, evdev.AbsInfo(0, 0, 65535, 0, 0, 0)),
            (ecodes.ABS_MT_POSITION_X, evdev.AbsInfo(0, 0, WIDTH - 1, 0, 0, 0)),
            (ecodes.ABS_MT_POSITION_Y, evdev.AbsInfo(0, 0, HEIGHT - 1, 0, 0, 0)),
        ]
        self._touch = evdev.UInput(
            {ecodes.EV_ABS: axes, ecodes.EV_KEY: [ecodes.BTN_TOUCH]},
            name="kiosk test panel",
            input_props=[ecodes.INPUT_PROP_DIRECT],
        )
        keys = [ecodes.KEY_ESC, ecodes.KEY_F1, ecodes.KEY_1, ecodes.KEY_ENTER, ecodes.KEY_LEFTALT, ecodes.KEY_F2]
        self._keys = evdev.UInput({ecodes.EV_KEY: keys}, name="kiosk test keyboard")
        self._finger = 0

    def tap(self, x: int, y: int, held_s: float = 0.15) -> None:
        self._finger += 1
        down = ((ecodes.ABS_MT_TRACKING_ID, self._finger), (ecodes.ABS_MT_POSITION_X, x), (ecodes.ABS_MT_POSITION_Y, y))
        for code, value in down:
            self._touch.write(ecodes.EV_ABS, code, value)
        self._touch.write(ecodes.EV_KEY, ecodes.BTN_TOUCH, 1)
        self._touch.syn()
        time.sleep(held_s)
        self._touch.write(ecodes.EV_ABS, ecodes.ABS_MT_TRACKING_ID, -1)
        self._touch.write(ecodes.EV_KEY, ecodes.BTN_TOUCH, 0)
        self._touch.syn()

    def type(self, *keys: int) -> None:
        for pressed in (1, 0):
            for key in keys:
                self._keys.write(ecodes.EV_KEY, key, pressed)
                self._keys.syn()
            time.sleep(0.1)

    def close(self) -> None:
        self._touch.close()
        self._keys.close()


class Kiosk:
    """The running program as the person sees it."""

    def __init__(self, folder: Path, panel: Panel) -> None:
        self._folder, self._panel = folder, panel
        self.taps = 0
        environment = {
            **os.environ,
            "SDL_VIDEODRIVER": "kmsdrm",
            "KIVY_WINDOW": "sdl2",
            "PYTHONPATH": str(ROOT),
            "XDG_CACHE_HOME": str(folder),
        }
        command = [sys.executable, str(Path(__file__).with_name("program.py")), str(folder)]
        with (folder / "log").open("w") as log:
            self.process = subprocess.Popen(command, env=environment, stdout=log, stderr=log, cwd=ROOT)

    def state(self) -> dict[str, Any]:
        try:
            read: dict[str, Any] = json.loads((self._folder / "state.json").read_text())
        except FileNotFoundError:
            return {"look": 0, "screen": "", "words": [], "touches": 0, "values": [], "verdict": None, "closed": False}
        return read

    def until(self, what: str, holds: Any) -> dict[str, Any]:
        """Wait until the state is as wished."""
        patience_until = time.monotonic() + PATIENCE_S
        while time.monotonic() < patience_until:
            assert self.process.poll() is None, (self._folder / "log").read_text()
            state = self.state()
            if holds(state):
                return state
            time.sleep(0.1)
        pytest.fail(f"{what} did not come: {self.state()}\n{(self._folder / 'log').read_text()}")

    def tap(self, words: str) -> None:
        """Touch the button with these words, and see that exactly one touch arrives."""
        x, y = self._place(words)
        self._panel.tap(x, y)
        self.taps += 1
        self.until("the touch", lambda state: state["touches"] >= self.taps)
        state = self.state()
        assert state["touches"] == self.taps, "a touch counted twice"
        ((landed_x, landed_y),) = state["last_touch"]
        assert max(abs(landed_x - x), abs(landed_y - y)) <= 2, "a touch landed elsewhere"

    def _place(self, words: str) -> tuple[int, int]:
        """Where these words stand once the screen has come to rest: at the same place in two looks."""
        place, look = None, 0
        while True:
            state = self.until(
                f"{words!r}",
                lambda state, look=look: state["look"] > look and any(text == words for text, _, _ in state["words"]),
            )
            before, look = place, state["look"]
            place = next((x, y) for text, x, y in state["words"] if text == words)
            if place == before:
                return place

    def type_reading(self, digits: str) -> None:
        """Through the keypad screen, as a person does whose cable is dead."""
        before = len(self.state()["values"])
        self.tap("Type")
        for digit in digits:
            self.tap(digit)
        self.until("the entry", lambda state: any(text.startswith(digits) for text, _, _ in state["words"]))
        self.tap("Take reading")
        state = self.until("the reading", lambda state: len(state["values"]) > before)
        assert state["values"][-1] == float(digits)


@pytest.fixture
def kiosk(tmp_path: Path) -> Iterator[Kiosk]:
    panel = Panel()
    time.sleep(1.0)  # udev names the devices
    running = Kiosk(tmp_path, panel)
    try:
        yield running
    finally:
        running.process.kill()
        running.process.wait()
        panel.close()


def test_a_whole_session_by_touch(kiosk: Kiosk) -> None:
    state = kiosk.until("the first screen", lambda state: state["words"])
    assert state["size"] == [WIDTH, HEIGHT]
    kiosk._panel.type(ecodes.KEY_ESC)
    kiosk._panel.type(ecodes.KEY_F1)
    kiosk._panel.type(ecodes.KEY_1)
    kiosk._panel.type(ecodes.KEY_ENTER)

    kiosk.tap("New coupon")
    kiosk.tap("Start this coupon")
    kiosk.tap("It lies so")
    for digits in LENGTHS:
        kiosk.type_reading(digits)
    for digits in CORNERS:
        kiosk.tap(kiosk.state()["corner"])
        kiosk.type_reading(digits)
    state = kiosk.until("the verdict", lambda state: state["verdict"] == "no-go")
    assert state["values"] == [float(digits) for digits in LENGTHS + CORNERS]
    kiosk.tap("NO-GO")
    kiosk.tap("Finish coupon")
    state = kiosk.until("the end", lambda state: state["closed"])
    assert state["touches"] == kiosk.taps
    print(f"{kiosk.taps} taps, {state['touches']} touches, verdict {state['verdict']}")

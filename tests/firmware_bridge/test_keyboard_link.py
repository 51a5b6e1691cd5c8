"""An instrument that types, on a real kernel: a keyboard made with uinput, taken exclusively, pulled and replugged."""

from __future__ import annotations

import errno
import os
import queue
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from core.metrology.readings import Quantity
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.cable_link import CableLink
from firmware_bridge.discovery import recognise
from firmware_bridge.instrument_settings import Capture, InstrumentSettings, Sends
from tests.patience import WAIT_S

evdev = pytest.importorskip("evdev", reason="needs the evdev library (extra pi)")
from evdev import ecodes  # noqa: E402 - after the skip

from firmware_bridge.keyboard_link import PAUSE_S, KeyboardCable  # noqa: E402

UINPUT = Path("/dev/uinput")
KEYS = {
    "-": ecodes.KEY_MINUS,
    ".": ecodes.KEY_DOT,
    ",": ecodes.KEY_COMMA,
    "\r": ecodes.KEY_ENTER,
    "\t": ecodes.KEY_TAB,
    "#": ecodes.KEY_F5,
} | {digit: getattr(ecodes, f"KEY_{digit}") for digit in "0123456789"}


class TypingInstrument:
    """A keyboard of the kernel's, as an instrument on a keyboard cable is."""

    def __init__(self, link: Path) -> None:
        capabilities = {ecodes.EV_KEY: [*KEYS.values(), ecodes.KEY_LEFTSHIFT, ecodes.KEY_EQUAL]}
        self._device = evdev.UInput(capabilities, name="typing caliper")
        self.path = self._device.device.path
        link.unlink(missing_ok=True)
        link.symlink_to(self.path)

    def type(self, text: str) -> None:
        for character in text:
            if character == "+":
                self._device.write(ecodes.EV_KEY, ecodes.KEY_LEFTSHIFT, 1)
            code = ecodes.KEY_EQUAL if character == "+" else KEYS[character]
            self._device.write(ecodes.EV_KEY, code, 1)
            self._device.write(ecodes.EV_KEY, code, 0)
            if character == "+":
                self._device.write(ecodes.EV_KEY, ecodes.KEY_LEFTSHIFT, 0)
            self._device.syn()

    def pull(self) -> None:
        self._device.close()


class PausedClock:
    """A clock that has always just paused long enough."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 2 * PAUSE_S
        return self.now_s


pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.skipif(not os.access(UINPUT, os.W_OK), reason="needs /dev/uinput: run in a machine with a real kernel"),
]


@pytest.fixture
def keyboard(tmp_path: Path) -> Iterator[TypingInstrument]:
    keyboard = TypingInstrument(tmp_path / "typing-caliper")
    yield keyboard
    keyboard.pull()


def link_to(path: Path) -> CableLink:
    settings = InstrumentSettings(
        name="caliper",
        port=str(path),
        format_name="typed-length",
        quantity=Quantity.LENGTH,
        sends=Sends.BUTTON,
        capture=Capture.DATA_BUTTON,
    )
    clock = PausedClock()
    return CableLink(settings, lambda: KeyboardCable(str(path), clock), clock=clock)


def test_typed_numbers_arrive_and_the_keyboard_is_ours_alone(keyboard: TypingInstrument, tmp_path: Path) -> None:
    link, events = link_to(tmp_path / "typing-caliper"), queue.Queue[LinkEvent]()
    link.start(events.put)
    first = events.get(timeout=WAIT_S)
    assert isinstance(first, LinkChanged)
    assert first.state is LinkState.UP
    got = []
    for number in ("120.34\r", "-0,01\t", "+5.00\r", "12#3.00\r"):
        keyboard.type(number)
        got.append(events.get(timeout=WAIT_S))
    with pytest.raises(OSError, match="busy") as second:
        KeyboardCable(keyboard.path, PausedClock())
    link.close()
    shown = [event.indication.shown if isinstance(event, IndicationArrived) else None for event in got]
    assert shown == [120.34, -0.01, 5.0, None]
    assert isinstance(got[0], IndicationArrived)
    assert got[0].indication.requested
    assert isinstance(got[3], FaultSeen)
    assert second.value.errno == errno.EBUSY


def test_a_pulled_keyboard_is_said_and_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "typing-caliper"
    keyboard = TypingInstrument(path)
    link, events = link_to(path), queue.Queue[LinkEvent]()
    link.start(events.put)
    states = [events.get(timeout=WAIT_S)]
    keyboard.pull()
    states.append(events.get(timeout=WAIT_S))
    keyboard = TypingInstrument(path)
    states.append(events.get(timeout=WAIT_S))
    while isinstance(states[-1], LinkChanged) and states[-1].state is LinkState.LOST:
        states.append(events.get(timeout=WAIT_S))
    keyboard.type("1.00\r")
    arrived = events.get(timeout=WAIT_S)
    link.close()
    keyboard.pull()
    changes = [event.state for event in states if isinstance(event, LinkChanged)]
    assert (changes[0], changes[1], changes[-1]) == (LinkState.UP, LinkState.LOST, LinkState.UP)
    assert isinstance(arrived, IndicationArrived)


def test_a_typing_instrument_is_recognised_without_taking_it(tmp_path: Path) -> None:
    path = tmp_path / "usb-typing_caliper-event-kbd"
    keyboard = TypingInstrument(path)
    done = threading.Event()

    def press_now_and_then() -> None:
        while not done.wait(0.5):
            keyboard.type("120.34\r")

    thread = threading.Thread(target=press_now_and_then)
    thread.start()
    found = recognise(str(path), ask=True)
    done.set()
    thread.join()
    keyboard.pull()
    assert {candidate.format_name for candidate in found.candidates} == {"typed-length", "typed-angle"}
    assert {candidate.last.shown for candidate in found.candidates} == {120.34}


def test_keys_the_kernel_dropped_spoil_the_number_and_invent_none(keyboard: TypingInstrument, tmp_path: Path) -> None:
    """Hundreds of keys at once overrun the kernel's buffer for a reader that is late."""
    late = [0.0]
    cable = KeyboardCable(keyboard.path, lambda: late[0])
    keyboard.type("1234.567\r" * 100)
    late[0] += 2 * PAUSE_S
    typed = cable.read()
    cable.close()
    assert b"?" in typed
    assert set(typed.split(b"?")[0].split(b"\r")[:-1]) <= {b"1234.567"}


def test_a_number_half_typed_when_the_cable_came_up_is_not_believed(keyboard: TypingInstrument) -> None:
    still = [0.0]
    cable = KeyboardCable(keyboard.path, lambda: still[0])
    keyboard.type("34\r")
    still[0] += PAUSE_S / 2
    assert cable.read() == b""
    keyboard.type("120.34\r")
    still[0] += 2 * PAUSE_S
    assert cable.read() == b"120.34\r"
    cable.close()

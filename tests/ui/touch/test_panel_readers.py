"""Kivy's own reader of a panel of one finger, on the kernel's own events: a touch counts where it was made."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from kivy.input.providers import hidinput

from hardware.touch_panels import ABS_X, ABS_Y, BTN_LEFT, BTN_TOUCH, Fingers, TouchPanel
from ui.touch.app import reader_of

# linux/input.h and linux/input-event-codes.h: struct input_event of 64-bit kernels, struct input_absinfo, ioctls.
EVENT, ABSINFO = "llHHi", "iiiiii"
EV_SYN, EV_KEY, EV_ABS = 0, 1, 3
NAME, BITS_OF_ALL, BITS_OF_ABS, RANGE = 0x06, 0x20, 0x23, 0x40
LARGEST = 32767


def answer(_file: object, request: int, _room: str) -> bytes:
    """As the kernel answers for such a device."""
    number = request & 0xFF
    if number == NAME:
        return b"one finger"
    if number == BITS_OF_ALL:
        return struct.pack("Q", 1 << EV_ABS)
    if number == BITS_OF_ABS:
        return struct.pack("Q", 1 << ABS_X | 1 << ABS_Y)
    assert number in (RANGE + ABS_X, RANGE + ABS_Y)
    return struct.pack(ABSINFO, 0, 0, LARGEST, 0, 0, 0)


# Kivy's reader never closes its device: it runs as long as the program.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("button", [BTN_TOUCH, BTN_LEFT], ids=["resistive", "like a mouse"])
def test_a_touch_of_one_finger_counts_where_it_was_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, button: int
) -> None:
    """The kernel counts Y from the top; Kivy from the bottom."""
    events = [(EV_ABS, ABS_X, LARGEST * 3 // 4), (EV_ABS, ABS_Y, LARGEST // 10), (EV_KEY, button, 1), (EV_SYN, 0, 0)]
    device = tmp_path / "event0"
    device.write_bytes(b"".join(struct.pack(EVENT, 0, 0, *event) for event in events))
    monkeypatch.setattr("fcntl.ioctl", answer)
    line = reader_of(TouchPanel(name="one finger", device=device, fingers=Fingers.ONE))
    name, _, words = line.partition(",")
    assert name == "hidinput"
    reader = hidinput.HIDInputMotionEventProvider(device.name, words)
    reader.queue, reader.dispatch_queue = [], []
    reader._thread_run(input_fn=reader.input_fn, device=device.name, default_ranges=reader.default_ranges)
    kind, touch = reader.queue[0]
    assert (kind, round(touch.sx, 2), round(touch.sy, 2)) == ("begin", 0.75, 0.9)

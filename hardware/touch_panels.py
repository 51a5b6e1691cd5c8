"""Which input devices are touch panels, and how many fingers each of them tells apart.

Stage: hardware. Input: the kernel's input devices in sysfs. Output: panels, for the screen to read and for the doctor
to name. Source: linux/input-event-codes.h; what counts as a touchscreen is the rule of udev's `input_id` (systemd,
udev-builtin-input_id.c), and beside it a pointer with absolute axes and a mouse's button, as some HDMI panels' USB side
calls itself.
"""

from enum import StrEnum
from pathlib import Path

from msgspec import Struct

from hardware.checkup import read_text

ABS_X, ABS_Y, ABS_MT_POSITION_X = 0x00, 0x01, 0x35
INPUT_PROP_DIRECT = 0x01
BTN_LEFT, BTN_TOOL_PEN, BTN_TOOL_FINGER, BTN_TOUCH, BTN_STYLUS = 0x110, 0x140, 0x145, 0x14A, 0x14B


class Fingers(StrEnum):
    """How many at a time."""

    MANY = "many"  # capacitive: multi-touch protocol
    ONE = "one"  # resistive: ABS_X, ABS_Y and BTN_TOUCH


class TouchPanel(Struct, frozen=True, kw_only=True):
    """A panel that reports touches where they are made."""

    name: str
    device: Path
    fingers: Fingers


def touch_panels(root: Path) -> list[TouchPanel]:
    """Every panel; no touchpad, pen, keyboard or joystick."""
    found = []
    for event in sorted((root / "sys/class/input").glob("event*")):
        fingers = _fingers_of(event / "device")
        if fingers is not None:
            name = read_text(event / "device/name")
            found.append(TouchPanel(name=name, device=root / "dev/input" / event.name, fingers=fingers))
    return found


def _fingers_of(device: Path) -> Fingers | None:
    axes, keys = read_text(device / "capabilities/abs"), read_text(device / "capabilities/key")
    direct = _has_bit(read_text(device / "properties"), INPUT_PROP_DIRECT)
    if direct and _has_bit(axes, ABS_MT_POSITION_X):
        return Fingers.MANY
    pen = _has_bit(keys, BTN_TOOL_PEN) or _has_bit(keys, BTN_STYLUS)
    touchpad = _has_bit(keys, BTN_TOOL_FINGER) and not direct
    if not (_has_bit(axes, ABS_X) and _has_bit(axes, ABS_Y)) or pen or touchpad:
        return None
    return Fingers.ONE if direct or _has_bit(keys, BTN_TOUCH) or _has_bit(keys, BTN_LEFT) else None


def _has_bit(words: str, bit: int) -> bool:
    """Whether a sysfs bitmap (64-bit words in hexadecimal, highest first) has this bit."""
    parts = words.split()
    word, within = divmod(bit, 64)
    return word < len(parts) and bool(int(parts[-1 - word], 16) >> within & 1)

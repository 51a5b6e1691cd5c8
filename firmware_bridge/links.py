"""Makes the link an instrument's settings call for: a serial port, or a keyboard taken exclusively."""

from __future__ import annotations

import errno
from typing import NoReturn

from firmware_bridge.byte_link import InstrumentLink
from firmware_bridge.cable_link import CableLink, Tap
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.serial_link import SerialLink


def make_link(settings: InstrumentSettings, tap: Tap | None = None) -> InstrumentLink:
    """A link not yet started."""
    if not settings.format.typed:
        return SerialLink(settings, tap=tap)
    try:
        # Only a Pi, or a desktop that wants it, has the library for keyboards.
        from firmware_bridge.keyboard_link import KeyboardLink
    except ImportError:
        return CableLink(settings, _no_keyboards, tap=tap)
    return KeyboardLink(settings, tap=tap)


def _no_keyboards() -> NoReturn:
    raise OSError(errno.ENOSYS, "taking a keyboard needs the library evdev: sh hardware/setup.sh installs it on a Pi")

"""Makes the link an instrument's settings call for: a serial port, a keyboard taken exclusively, radio, USB reports."""

import errno
from typing import NoReturn

from firmware_bridge.byte_link import InstrumentLink
from firmware_bridge.cable_link import CableLink, Tap
from firmware_bridge.hid_link import HidCable
from firmware_bridge.instrument_settings import InstrumentSettings


def make_link(settings: InstrumentSettings, tap: Tap | None = None) -> InstrumentLink:
    """A link not yet started."""
    if settings.on_radio:
        return _radio_link(settings, tap)
    if settings.on_hid:
        return CableLink(settings, lambda: HidCable(settings.port), tap=tap)
    if not settings.format.typed:
        # Its library comes with the first cable that has such a port.
        from firmware_bridge.serial_link import SerialCable

        return CableLink(settings, lambda: SerialCable(settings.port, settings.line), tap=tap)
    try:
        # Only a Pi, or a desktop that wants it, has the library for keyboards.
        from firmware_bridge.keyboard_link import KeyboardCable
    except ImportError:
        return CableLink(settings, _no_keyboards, tap=tap)
    return CableLink(settings, lambda: KeyboardCable(settings.port), tap=tap)


def _radio_link(settings: InstrumentSettings, tap: Tap | None) -> InstrumentLink:
    try:
        # The same holds for the library for radio.
        from firmware_bridge.radio_link import RadioLink
    except ImportError:
        return CableLink(settings, _no_radio, tap=tap)
    return RadioLink(settings, tap=tap)


def _no_radio() -> NoReturn:
    raise OSError(errno.ENOSYS, "radio needs the library bleak: sh hardware/setup.sh installs it on a Pi")


def _no_keyboards() -> NoReturn:
    raise OSError(errno.ENOSYS, "taking a keyboard needs the library evdev: sh hardware/setup.sh installs it on a Pi")

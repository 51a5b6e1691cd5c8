"""USB instruments that are HID without being keyboards, as cables: each report is one packet.

Input: a USB identity; output: each report as one line in hexadecimal digits. A hidraw device has no stable path of its
own: it is found by vendor, product and serial number, or, where it has none, by the socket it is in. Nothing is written
to it. Source: Linux kernel documentation, hidraw (a read gives one report, its number first where it has one).
"""

import errno
import os
import re
import select
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

from firmware_bridge.decoders.packet_lines import MOST_BYTES, packet_line
from firmware_bridge.instrument_settings import HID

HIDRAW = Path("/sys/class/hidraw")
DEVICES = Path("/dev")
_USB = "0003"


class HidDevice(Struct, frozen=True, kw_only=True):
    """A device that sends reports and is neither keyboard, mouse nor touch panel. `port` names it for good; `by_socket`
    when only the socket it is in tells it from others."""

    port: str
    device: str
    name: str
    by_socket: bool


def hid_devices(listed: Path = HIDRAW, devices: Path = DEVICES) -> tuple[HidDevice, ...]:
    """Those on USB now. A device of which the system made an input (keys, pointer, touch) is left to the system."""
    return tuple(_devices(listed, devices))


def _devices(listed: Path, devices: Path) -> Iterator[HidDevice]:
    try:
        found = sorted(listed.iterdir())
    except OSError:
        return
    for entry in found:
        try:
            told = dict(
                line.split("=", 1) for line in (entry / "device" / "uevent").read_text().splitlines() if "=" in line
            )
        except (OSError, UnicodeDecodeError):
            continue  # pulled while it was looked at
        bus, _, identity = told.get("HID_ID", "").partition(":")
        if bus != _USB or (entry / "device" / "input").exists():
            continue
        vendor, _, product = identity.partition(":")
        serial, socket = told.get("HID_UNIQ", ""), told.get("HID_PHYS", "")
        tail = _plain(serial) if serial else "@" + _plain(socket)
        yield HidDevice(
            port=f"{HID}{vendor[-4:]}:{product[-4:]}:{tail}".lower(),
            device=str(devices / entry.name),
            name=told.get("HID_NAME", entry.name),
            by_socket=not serial,
        )


def _plain(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9._/-]+", "-", text)


class HidCable:
    """The device of this port, found anew each time it is opened."""

    def __init__(self, port: str, listed: Path = HIDRAW, devices: Path = DEVICES) -> None:
        device = next((one.device for one in hid_devices(listed, devices) if one.port == port), None)
        if device is None:
            raise OSError(errno.ENODEV, "not plugged in")
        self._descriptor = os.open(device, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)

    def fileno(self) -> int:
        """Descriptor to wait on."""
        return self._descriptor

    def read(self) -> bytes:
        """The next report as a line, after the descriptor became readable; raises OSError when the device is gone."""
        report = os.read(self._descriptor, 4096)
        if not report:
            raise OSError(errno.EIO, "cable pulled")
        return packet_line(report[: MOST_BYTES + 1])

    def read_within(self, wait_s: float) -> bytes:
        """Wait for a report; empty when none came."""
        ready, _, _ = select.select([self._descriptor], [], [], wait_s)
        return self.read() if ready else b""

    def write(self, data: bytes) -> None:
        """Nothing: it is only listened to (its settings refuse more)."""

    def close(self) -> None:
        """Free the descriptor; raises nothing."""
        os.close(self._descriptor)

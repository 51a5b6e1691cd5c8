"""A USB device that sends reports, made by the kernel's own uhid. Source: linux/uhid.h and its documentation.

Runs as root in a machine that was made for it.
"""

from __future__ import annotations

import os
import struct
import subprocess
import time
from pathlib import Path

from tests.patience import WAIT_S

_DESTROY, _CREATE2, _INPUT2 = 1, 11, 12
_BUS_USB = 3
# Vendor-defined usage: report 2, two bytes of input. Source: HID 1.11, 6.2.2.
DESCRIPTOR = bytes.fromhex("0600FF0901A101850215 00 26FF00 7508 9502 0901 8102 C0".replace(" ", ""))


class UhidDevice:
    """Plugged in from the start, until pulled."""

    def __init__(self, *, vendor: int, product: int, uniq: str, listed: Path, devices: Path) -> None:
        self.listed, self.devices = listed, devices
        subprocess.run(["modprobe", "-a", "uhid", "hid-generic"], check=True)
        until_s = time.monotonic() + WAIT_S
        before = set(listed.iterdir()) if listed.exists() else set()
        self._end = os.open("/dev/uhid", os.O_RDWR | os.O_CLOEXEC)
        self._write(
            _CREATE2,
            struct.pack(
                "<128s64s64sHHIIII4096s",
                b"House Gauge", b"bench/socket0", uniq.encode(), len(DESCRIPTOR), _BUS_USB, vendor, product, 0, 0,
                DESCRIPTOR,
            ),
        )  # fmt: skip
        while not (listed.exists() and set(listed.iterdir()) - before):
            if time.monotonic() > until_s:
                raise TimeoutError("the kernel made no hidraw device")
            os.sched_yield()

    def report(self, data: bytes) -> None:
        """Send one."""
        self._write(_INPUT2, struct.pack("<H4096s", len(data), data))

    def pull(self) -> None:
        """Unplug it."""
        self._write(_DESTROY, b"")

    def close(self) -> None:
        """Free the descriptor, and with it whatever is left of the device."""
        os.close(self._end)

    def _write(self, kind: int, content: bytes) -> None:
        os.write(self._end, struct.pack("<I", kind) + content)

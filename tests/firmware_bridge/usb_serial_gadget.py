"""Both ends of a USB cable on one kernel: a serial gadget on the dummy controller, seen by the host as /dev/ttyACM0."""

from __future__ import annotations

import os
import subprocess
import termios
import tty
from pathlib import Path

CONFIGFS = Path("/sys/kernel/config/usb_gadget")
MODULES = ("usbcore", "dummy_hcd", "libcomposite", "usb_f_acm", "cdc-acm")
INSTRUMENT_TTY = Path("/dev/ttyGS0")


class UsbSerialGadget:
    """The instrument: plugged in when bound to its controller. Needs root and the kernel's modules."""

    def __init__(self, serial_number: str) -> None:
        subprocess.run(["modprobe", "-a", *MODULES], check=True)
        if not CONFIGFS.exists():
            subprocess.run(["mount", "-t", "configfs", "none", CONFIGFS.parent], check=True)
        self._folder = CONFIGFS / "caliper"
        self._tty: int | None = None
        (self._folder / "strings/0x409").mkdir(parents=True)
        (self._folder / "configs/c.1/strings/0x409").mkdir(parents=True)
        (self._folder / "functions/acm.0").mkdir(parents=True)
        self._set("idVendor", "0x1d6b")
        self._set("idProduct", "0x0104")
        self._set("strings/0x409/serialnumber", serial_number)
        self._set("strings/0x409/product", "test caliper")
        (self._folder / "configs/c.1/acm.0").symlink_to(self._folder / "functions/acm.0")

    def _set(self, name: str, text: str) -> None:
        (self._folder / name).write_text(text + "\n")

    def plug(self) -> None:
        """Plug the cable in."""
        (controller,) = (path.name for path in Path("/sys/class/udc").iterdir())
        self._set("UDC", controller)

    def pull(self) -> None:
        """Pull the cable."""
        if self._tty is not None:
            os.close(self._tty)
            self._tty = None
        self._set("UDC", "")

    def write(self, data: bytes) -> None:
        """The instrument speaks."""
        if self._tty is None:
            self._tty = os.open(INSTRUMENT_TTY, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
            tty.setraw(self._tty, termios.TCSANOW)
        os.write(self._tty, data)

    def remove(self) -> None:
        """Take the gadget apart."""
        (self._folder / "configs/c.1/acm.0").unlink()
        for name in ("configs/c.1/strings/0x409", "configs/c.1", "functions/acm.0", "strings/0x409", ""):
            (self._folder / name).rmdir()

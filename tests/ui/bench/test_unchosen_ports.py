"""A port that nobody chose: no request that raises a line reaches it, seen on the wire by the kernel's own monitor.

Both ends of a USB cable on one kernel, usbmon between them (Documentation/usb/usbmon.rst: text format). A board that
resets when its line is raised would reset in the middle of a job. CDC PSTN 1.2, 6.3.12: SetControlLineState is request
0x22 of type 0x21, its value the lines: 1 DTR, 2 RTS. The driver itself says once, with value 0, that both are low.
"""

from __future__ import annotations

import os
import re
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from firmware_bridge.discovery import PlugWatch, recognise
from firmware_bridge.links import make_link
from firmware_bridge.settings_store import SettingsStore
from tests.firmware_bridge.usb_serial_gadget import UsbSerialGadget
from tests.patience import WAIT_S
from ui.bench.workers.cables import Cables, PortHeard

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(600),
    pytest.mark.skipif("CORNERWISE_REAL_KERNEL" not in os.environ, reason="loads USB modules: needs a machine for it"),
]
MONITOR = Path("/sys/kernel/debug/usb/usbmon/0u")
LINE_STATE = re.compile(r" s 21 22 ([0-9a-f]{4}) ")
LOOKED_ON_S = 5.0


class Wire:
    """What went over all USB cables since it was made."""

    def __init__(self) -> None:
        subprocess.run(["modprobe", "usbmon"], check=True)
        if not MONITOR.exists():
            subprocess.run(["mount", "-t", "debugfs", "none", "/sys/kernel/debug"], check=True)
        self.lines: list[str] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        with MONITOR.open(encoding="ascii", errors="replace") as monitor:
            for line in monitor:
                self.lines.append(line)

    def raised(self) -> list[str]:
        """The line states that were asked for and are not 'both low'."""
        return [found[1] for line in list(self.lines) if (found := LINE_STATE.search(line)) and int(found[1], 16)]


@pytest.fixture
def gadget() -> Iterator[UsbSerialGadget]:
    gadget = UsbSerialGadget("UNCHOSEN")
    yield gadget
    gadget.pull()
    gadget.remove()


def until(wanted: Callable[[], object]) -> None:
    waiter, until_s = threading.Event(), time.monotonic() + WAIT_S
    while not wanted():
        assert time.monotonic() < until_s, "it did not come"
        waiter.wait(0.1)


def test_a_new_port_is_named_and_no_line_of_it_is_raised_until_it_is_listened_to(
    gadget: UsbSerialGadget, tmp_path: Path
) -> None:
    wire, reports = Wire(), []
    cables = Cables(SettingsStore(tmp_path), make_link=make_link, recognise=recognise, watch=PlugWatch())
    cables.start(reports.append)
    try:
        gadget.plug()
        until(lambda: any(isinstance(one, PortHeard) and "ttyACM" in one.port.device for one in reports))
        threading.Event().wait(LOOKED_ON_S)
        assert wire.lines, "the monitor saw nothing, so it proves nothing"
        assert wire.raised() == []
        (port,) = {one.port.path for one in reports if isinstance(one, PortHeard) and "ttyACM" in one.port.device}
        cables.listen(port)
        until(wire.raised)
    finally:
        cables.close()

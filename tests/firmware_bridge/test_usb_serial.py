"""Twenty real USB unplugs of a serial instrument (cdc-acm), on a kernel that has both ends of the cable."""

from __future__ import annotations

import os
import queue
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from core.metrology.readings import Quantity
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.discovery import plugged_in
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from tests.firmware_bridge.usb_serial_gadget import UsbSerialGadget
from tests.patience import WAIT_S

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(600),
    pytest.mark.skipif("CORNERWISE_REAL_KERNEL" not in os.environ, reason="loads USB modules: needs a machine for it"),
]
UNPLUGS = 20


@pytest.fixture
def gadget() -> Iterator[UsbSerialGadget]:
    gadget = UsbSerialGadget("C0FFEE")
    yield gadget
    gadget.pull()
    gadget.remove()


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def stable_path() -> str:
    """By-id as the system's rules name it; they take a moment after the port is there."""
    waiter = threading.Event()
    until_s = time.monotonic() + WAIT_S
    while time.monotonic() < until_s:
        for port in plugged_in():
            if "ttyACM" in port.device and port.path != port.device:
                return port.path
        waiter.wait(0.2)
    pytest.fail("the port never got a stable path")


def test_twenty_unplugs_of_a_usb_instrument(gadget: UsbSerialGadget) -> None:
    gadget.plug()
    path = stable_path()
    assert "/by-id/" in path
    assert "C0FFEE" in path
    events: queue.Queue[LinkEvent] = queue.Queue()

    def await_state(state: LinkState) -> None:
        while True:
            event = events.get(timeout=WAIT_S)
            if isinstance(event, LinkChanged) and event.state is state:
                return

    settings = InstrumentSettings(name="caliper", port=path, format_name="length-3.3", quantity=Quantity.LENGTH)
    before = descriptors(), threading.active_count()
    link = make_link(settings)
    link.start(events.put)
    await_state(LinkState.UP)
    lost_s, back_s, devices, said = [], [], [], []
    for number in range(UNPLUGS):
        gadget.write(f"+{number:03d}.500\r+01".encode())
        event = events.get(timeout=WAIT_S)
        assert isinstance(event, IndicationArrived), event
        assert event.indication.shown == number + 0.5
        gadget_pulled_s = time.monotonic()
        gadget.pull()
        await_state(LinkState.LOST)
        lost_s.append(time.monotonic() - gadget_pulled_s)
        gadget.plug()
        while not Path(path).exists():
            threading.Event().wait(0.01)
        appeared_s = time.monotonic()
        await_state(LinkState.UP)
        back_s.append(time.monotonic() - appeared_s)
        devices.append(str(Path(path).resolve()))
        said.append(number)
    link.close()
    after = descriptors(), threading.active_count()
    print(
        f"\n{len(said)} unplugs: lost within {max(lost_s):.2f} s, back within {max(back_s):.2f} s of the port's "
        f"appearance; always {set(devices)}; descriptors and threads {before} before, {after} after"
    )
    assert after[1] == before[1]
    # The instrument's own end stays open until the fixture pulls it.
    assert after[0] <= before[0] + 1
    assert set(devices) == {"/dev/ttyACM0"}

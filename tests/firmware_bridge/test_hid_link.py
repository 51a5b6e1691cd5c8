"""Instruments that send USB reports: the same contract on a stand-in (a folder as the kernel lists devices, a FIFO as
one) and, on a kernel with uhid, on a real hidraw device."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.cable_link import CableLink
from firmware_bridge.decoders.packet_lines import PacketLayout
from firmware_bridge.discovery import plugged_in
from firmware_bridge.hid_link import DEVICES, HIDRAW, HidCable, hid_devices
from firmware_bridge.instrument_settings import InstrumentSettings, Sends
from firmware_bridge.wire_formats import DecoderOptions
from tests.firmware_bridge.uhid_device import UhidDevice
from tests.patience import WAIT_S

PORT = "hid:c0de:0042:bench-7"
REPORT = PacketLayout(first_byte=1, byte_count=2, same="02....")


class Device(Protocol):
    """A device that reports, plugged in from the start."""

    listed: Path
    devices: Path

    def report(self, data: bytes) -> None: ...

    def pull(self) -> None: ...


class StandIn:
    """What the kernel lists, in a folder, and a FIFO in place of the device."""

    def __init__(self, folder: Path) -> None:
        self.listed, self.devices = folder / "class", folder / "dev"
        self.devices.mkdir()
        entry(self.listed, "hidraw7", uniq="bench 7")
        os.mkfifo(self.devices / "hidraw7")
        # Open for both ways, so that neither end waits for the other.
        self._end = os.open(self.devices / "hidraw7", os.O_RDWR | os.O_NONBLOCK)

    def report(self, data: bytes) -> None:
        os.write(self._end, data)

    def pull(self) -> None:
        (self.listed / "hidraw7" / "device" / "uevent").unlink()
        os.close(self._end)


def entry(listed: Path, name: str, *, uniq: str = "", has_input: bool = False, bus: str = "0003") -> None:
    device = listed / name / "device"
    device.mkdir(parents=True)
    told = f"HID_ID={bus}:0000C0DE:00000042\nHID_NAME=House Gauge\nHID_PHYS=usb-1.2/input0\nHID_UNIQ={uniq}\n"
    (device / "uevent").write_text(told)
    if has_input:
        (device / "input").mkdir()


@pytest.fixture(params=["stand-in", pytest.param("kernel", marks=pytest.mark.real_kernel)])
def device(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Device]:
    if request.param == "stand-in":
        yield StandIn(tmp_path)
        return
    if "CORNERWISE_REAL_KERNEL" not in os.environ:
        pytest.skip("loads uhid: needs a machine for it")
    real = UhidDevice(vendor=0xC0DE, product=0x0042, uniq="bench 7", listed=HIDRAW, devices=DEVICES)
    yield real
    real.close()


def instrument(layout: PacketLayout = REPORT) -> InstrumentSettings:
    return InstrumentSettings(
        name="caliper",
        port=PORT,
        format_name="packets-length",
        quantity=Quantity.LENGTH,
        options=DecoderOptions(packet=layout, binary_proven=True),
    )


def test_reports_become_readings_until_it_is_pulled(device: Device) -> None:
    (found,) = [one for one in hid_devices(device.listed, device.devices) if one.port == PORT]
    assert not found.by_socket
    events: queue.Queue[LinkEvent] = queue.Queue()
    link = CableLink(instrument(), lambda: HidCable(PORT, device.listed, device.devices))
    link.start(events.put)
    try:
        up = events.get(timeout=WAIT_S)
        assert isinstance(up, LinkChanged)
        assert up.state is LinkState.UP, up
        for count in (1234, -1, 12000):
            device.report(b"\x02" + count.to_bytes(2, "little", signed=True))
            event = events.get(timeout=WAIT_S)
            assert isinstance(event, IndicationArrived), event
            assert event.indication.value == pytest.approx(count / 100)
        device.pull()
        lost = events.get(timeout=WAIT_S)
        assert isinstance(lost, LinkChanged)
        assert lost.state is LinkState.LOST
    finally:
        link.close()
    assert not any(thread.name == "link caliper" for thread in threading.enumerate())


def test_what_the_system_made_an_input_of_is_left_to_the_system(tmp_path: Path) -> None:
    entry(tmp_path, "hidraw0", has_input=True)
    entry(tmp_path, "hidraw1", bus="0005")
    entry(tmp_path, "hidraw2")
    (tmp_path / "hidraw3").mkdir()  # pulled while it was looked at
    (found,) = hid_devices(tmp_path)
    assert (found.device, found.by_socket, found.name) == ("/dev/hidraw2", True, "House Gauge")
    assert found.port == "hid:c0de:0042:@usb-1.2/input0"
    assert hid_devices(tmp_path / "not there") == ()


def test_it_is_listed_among_what_is_plugged_in(tmp_path: Path) -> None:
    entry(tmp_path, "hidraw2", uniq="bench 7")
    (port,) = [port for port in plugged_in(hidraw=tmp_path) if port.path.startswith("hid:")]
    assert (port.path, port.device, port.description) == (PORT, "/dev/hidraw2", "House Gauge")


@pytest.mark.parametrize("changed", [{"format_name": "length-3.3"}, {"sends": Sends.ASKED}])
def test_reports_are_packets_and_never_asked_for(changed: dict[str, Any]) -> None:
    with pytest.raises(BadInputError):
        replace(instrument(), **changed)

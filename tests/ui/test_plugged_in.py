"""A USB instrument plugged into the real bench, on a kernel with both ends of the cable: heard, offered, used,
remembered, pulled, back again; and after a restart of the bench it is simply there."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from firmware_bridge.byte_link import LinkState
from tests.firmware_bridge.usb_serial_gadget import UsbSerialGadget
from tests.patience import WAIT_S
from ui.bench.bench import Bench
from ui.bench.desks.cables import UseInstrument
from ui.bench.opening import opening
from ui.start import BenchOptions, assembled
from ui.state.snapshot import Snapshot

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(600),
    pytest.mark.skipif("CORNERWISE_REAL_KERNEL" not in os.environ, reason="loads USB modules: needs a machine for it"),
]


@pytest.fixture
def gadget() -> Iterator[UsbSerialGadget]:
    gadget = UsbSerialGadget("CAFE01")
    yield gadget
    gadget.pull()
    gadget.remove()


@contextmanager
def streaming(gadget: UsbSerialGadget) -> Iterator[None]:
    """The instrument says the same length ten times a second."""
    done = threading.Event()

    def run() -> None:
        while not done.wait(0.1):
            try:
                gadget.write(b"+  143.62 MM\r\n")
            except OSError:
                continue  # nobody listens, or the buffer is full: an instrument does not care

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def until(bench: Bench, so: Callable[[Snapshot], bool]) -> Snapshot:
    """Pump the bench as the screen does until something is so."""
    woken = threading.Event()
    bench.subscribe(woken.set)
    end_s = time.monotonic() + WAIT_S
    while time.monotonic() < end_s:
        snapshot = bench.pump()
        if so(snapshot):
            return snapshot
        woken.wait(0.1)
        woken.clear()
    pytest.fail(f"never so: {bench.snapshot.message}, ports {bench.snapshot.ports}, {bench.snapshot.instruments}")


def state_of(snapshot: Snapshot) -> LinkState | None:
    return snapshot.instruments[0].state if snapshot.instruments else None


def test_from_the_socket_to_a_reading(gadget: UsbSerialGadget, tmp_path: Path) -> None:
    options = BenchOptions(folder=tmp_path, opened=opening(Coupon(width_mm=120.0, height_mm=80.0), "mK"))
    with assembled(options) as bench:
        until(bench, lambda snapshot: snapshot.session is not None)
        gadget.plug()
        with streaming(gadget):
            snapshot = until(bench, lambda snapshot: any(port.offers for port in snapshot.ports))
            (port,) = (port for port in snapshot.ports if port.offers)
            assert "/by-id/" in port.path
            assert port.offers[0].format_name == "length-8-unit"
            bench.send(UseInstrument(settings=port.offers[0]))
            snapshot = until(bench, lambda snapshot: bool(snapshot.readings))
            assert [(item.reading.feature, item.reading.value) for item in snapshot.readings] == [
                (Feature.NL_FR, 143.62)
            ]
        gadget.pull()
        until(bench, lambda snapshot: state_of(snapshot) is LinkState.LOST)
        gadget.plug()
        with streaming(gadget):
            snapshot = until(bench, lambda snapshot: state_of(snapshot) is LinkState.UP)
            heard = snapshot.instruments[0].indications
            snapshot = until(bench, lambda snapshot: snapshot.instruments[0].indications > heard + 5)
            assert len(snapshot.readings) == 1  # the jaws never moved: nothing twice from one hold
    with assembled(BenchOptions(folder=tmp_path)) as bench, streaming(gadget):
        until(bench, lambda snapshot: bool(snapshot.instruments and snapshot.instruments[0].indications))
        snapshot = until(bench, lambda snapshot: bool(snapshot.readings))
        assert snapshot.instruments[0].name == "caliper"
        assert [item.reading.value for item in snapshot.readings] == [143.62]

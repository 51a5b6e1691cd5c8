"""Pairing by touch: from nothing looked for to a number on the bench, through the real cables and the library's front
end on a radio of the tests."""

from __future__ import annotations

import threading
from functools import partial
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.metrology.readings import Quantity
from core.progress import Told
from core.said import worded
from firmware_bridge.discovery import PlugWatch, Port, Recognition, recognised_by_radio
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.radio_link import RadioLink, heard_by_radio
from firmware_bridge.settings_store import SettingsStore
from tests.firmware_bridge.radio_backend import ADDRESS, NUMBERS, Air
from tests.patience import WAIT_S
from tests.ui.bench.test_cables import shown_when
from tests.ui.bench_bits import running_bench
from ui.bench.desks.cables import ForgetInstrument, ListenPort, LookForRadio, UseInstrument
from ui.bench.workers.cables import Cables
from ui.pages.cable import first_settings, taken_names
from ui.pages.cable_settings import changed, choices_of, names_of, value_of

PATH = f"radio:{ADDRESS}"
FOUND = Port(path=PATH, device=ADDRESS, description="bench caliper")


def packet(count: int) -> bytes:
    return b"\x3a" + count.to_bytes(4, "little", signed=True)


class Talking:
    """The instrument says its number for as long as somebody listens."""

    def __init__(self, air: Air, said: bytes) -> None:
        self._air, self.said = air, said
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._talk)
        self._thread.start()

    def _talk(self) -> None:
        while not self._stop.wait(0.02):
            self._air.say(NUMBERS, self.said)

    def close(self) -> None:
        self._stop.set()
        self._thread.join()


@pytest.mark.parametrize(
    ("said", "number"), [(packet(12034), 120.34), (b"+  120.34 ,MM\r\n", 120.34)], ids=["packets", "lines"]
)
def test_from_nothing_looked_for_to_a_number(tmp_path: Path, said: bytes, number: float) -> None:
    air, looked = Air(), []

    def radio(_told: Told) -> tuple[Port, ...]:
        looked.append(1)
        return (FOUND,)

    def recognise(path: str, *, ask: bool = False, told: Told) -> Recognition:
        def enough(heard: dict[object, list[bytes]]) -> bool:
            return any(len(parts) > 2 for parts in heard.values())

        return recognised_by_radio(path, heard_by_radio(path, WAIT_S, enough, backend=air.backend))  # type: ignore[arg-type]

    talking, woken = Talking(air, said), threading.Semaphore(0)
    with running_bench(tmp_path) as under_test:
        under_test.bench.subscribe(woken.release)
        cables = Cables(
            SettingsStore(tmp_path),
            make_link=partial(RadioLink, backend=air.backend),
            recognise=recognise,
            watch=PlugWatch(tuple),
            radio=radio,
            look_every_s=0.02,
        )
        cables.start(under_test.bench.post)
        try:
            under_test.use_cables(cables)
            send, shown = under_test.bench.send, partial(shown_when, under_test, woken)
            assert looked == []
            send(LookForRadio())
            snapshot = shown(lambda snapshot: any(port.path == PATH for port in snapshot.ports))
            assert (snapshot.ports[0].opened, air.history) == (False, [])
            send(ListenPort(path=PATH))
            snapshot = shown(lambda snapshot: snapshot.ports[0].opened and not snapshot.ports[0].listening)
            assert snapshot.ports[0].radio == NUMBERS
            settings = first_settings(snapshot, PATH)
            if settings.format.packets:
                settings = by_hand(settings, taken_names(snapshot))
            send(UseInstrument(settings=settings, by_hand=settings.format.packets))
            used = shown(lambda snapshot: snapshot.live_length.value is not None)
            assert used.live_length.value == pytest.approx(number)
            assert "radio" in worded(used.instruments[0].text)
            send(ForgetInstrument(port=PATH))
            shown(lambda snapshot: not snapshot.instruments)
            assert looked == [1]
        finally:
            cables.close()
            talking.close()
    assert not any(entry.startswith("write") for entry in air.history)


def by_hand(settings: InstrumentSettings, taken: tuple[str, ...]) -> InstrumentSettings:
    """As a person touches it: where the number begins, and that it reads as the display does."""
    assert names_of(settings) == ("format", "sends", "unit", "place", "width", "order", "decimals", "proven")
    for name, value in (("place", "2"), ("width", "4"), ("order", "low"), ("decimals", "2"), ("proven", "yes")):
        assert value in dict(choices_of(settings, name))
        settings = changed(settings, name, value, taken)
        assert value_of(settings, name) == value
    moved = changed(settings, "place", "3", taken)
    assert not moved.options.binary_proven, "what was compared holds for the layout before"
    return settings


def test_no_radio_is_said(tmp_path: Path) -> None:
    def radio(_told: Told) -> tuple[Port, ...]:
        raise OSError(100, "Network is down")  # ENETDOWN

    woken = threading.Semaphore(0)
    with running_bench(tmp_path) as under_test:
        under_test.bench.subscribe(woken.release)
        cables = Cables(
            SettingsStore(tmp_path), make_link=RadioLink, recognise=_never, watch=PlugWatch(tuple), radio=radio
        )
        cables.start(under_test.bench.post)
        try:
            under_test.use_cables(cables)
            under_test.bench.send(LookForRadio())
            told = shown_when(
                under_test,
                woken,
                lambda snapshot: snapshot.message is not None and "Bluetooth" in worded(snapshot.message.text),
            )
            assert told.message is not None
            assert told.message.alarm
        finally:
            cables.close()


def _never(path: str, *, ask: bool = False, told: Told) -> Recognition:
    raise AssertionError(path)


def test_hid_offers_packets_alone() -> None:
    settings = InstrumentSettings(
        name="caliper", port="hid:c0de:0042:7", format_name="packets-length", quantity=Quantity.LENGTH
    )
    assert {name for name, _ in choices_of(settings, "format")} == {"packets-length", "packets-angle"}
    assert "speed" not in names_of(settings)
    assert changed(settings, "order", "high", ()).options.packet == replace(settings.options.packet, big_endian=True)

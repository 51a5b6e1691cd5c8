"""Instruments on Bluetooth Low Energy: through the library's front end on a backend of the tests, and, on a kernel with
two emulated radios, through the system's own Bluetooth."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.decoders.packet_lines import PacketLayout
from firmware_bridge.discovery import recognised_by_radio
from firmware_bridge.instrument_settings import InstrumentSettings, RadioPlace, Sends
from firmware_bridge.radio_link import RadioLink, heard_by_radio
from firmware_bridge.settings_store import settings_from_json, settings_to_json
from firmware_bridge.wire_formats import DecoderOptions
from tests.firmware_bridge.radio_backend import ADDRESS, BATTERY, NUMBERS, SILENT, Air
from tests.patience import WAIT_S

PORT = f"radio:{ADDRESS}"
PACKETS = InstrumentSettings(
    name="caliper",
    port=PORT,
    format_name="packets-length",
    quantity=Quantity.LENGTH,
    options=DecoderOptions(packet=PacketLayout(first_byte=1), binary_proven=True),
    radio=NUMBERS,
)
LINES = replace(PACKETS, format_name="length-8-unit", sends=Sends.BUTTON)


@contextmanager
def linked(settings: InstrumentSettings, air: Air) -> Iterator[queue.Queue[LinkEvent]]:
    events: queue.Queue[LinkEvent] = queue.Queue()
    link = RadioLink(settings, backend=air.backend)
    link.start(events.put)
    try:
        yield events
    finally:
        link.close()
    assert not [one.name for one in threading.enumerate() if "caliper" in one.name or ADDRESS in one.name]


def changed(events: queue.Queue[LinkEvent]) -> LinkChanged:
    event = events.get(timeout=WAIT_S)
    assert isinstance(event, LinkChanged), event
    return event


def packet(count: int) -> bytes:
    return b"\x3a" + count.to_bytes(4, "little", signed=True)


def test_notified_packets_become_indications_and_nothing_is_sent() -> None:
    air = Air()
    with linked(PACKETS, air) as events:
        up = changed(events)
        assert (up.state, str(up.text)) == (LinkState.UP, "length, packets described by hand, by radio")
        for count in (1234, -5, 12000):
            air.say(NUMBERS, packet(count))
            event = events.get(timeout=WAIT_S)
            assert isinstance(event, IndicationArrived), event
            assert event.indication.value == pytest.approx(count / 100)
    # Where it is not set, nobody is subscribed; the backend raises where anything is written.
    assert air.history == [f"connect {ADDRESS}", f"subscribe {NUMBERS.characteristic}", "disconnect"]


def test_lines_cut_into_notifications_are_put_together() -> None:
    air = Air()
    with linked(LINES, air) as events:
        changed(events)
        for part in (b"+  12.", b"345 ,MM\r", b"\n-", b"  12.340 ,MM\r\n"):
            air.say(NUMBERS, part)
        values = []
        for _ in range(2):
            event = events.get(timeout=WAIT_S)
            assert isinstance(event, IndicationArrived), event
            assert event.indication.requested
            values.append(event.indication.value)
        assert values == pytest.approx([12.345, -12.34])


def test_out_of_reach_is_said_and_it_comes_back_by_itself() -> None:
    air = Air()
    with linked(PACKETS, air) as events:
        changed(events)
        air.go()
        lost = changed(events)
        assert (lost.state, str(lost.text)) == (LinkState.LOST, "not in reach, or switched off")
        air.in_reach = True
        assert changed(events).state is LinkState.UP
        air.say(NUMBERS, packet(100))
        assert isinstance(events.get(timeout=WAIT_S), IndicationArrived)


def test_bluetooth_that_is_off_is_said() -> None:
    air = Air()
    air.bluetooth = False
    with linked(PACKETS, air) as events:
        assert "Bluetooth" in str(changed(events).text)


def test_what_nobody_foresaw_is_not_taken_for_out_of_reach() -> None:
    air = Air()
    air.fails = KeyError("Adapter")  # as a library meets a system that is other than it thought
    with linked(PACKETS, air) as events:
        lost = changed(events)
        assert (lost.state, str(lost.text)) == (LinkState.LOST, "an error nobody foresaw (KeyError)")
        air.fails = None
        assert changed(events).state is LinkState.UP


def test_a_place_that_is_not_there_is_said() -> None:
    elsewhere = RadioPlace(service=NUMBERS.service, characteristic=NUMBERS.characteristic.replace("5a7e", "ffff"))
    with linked(replace(PACKETS, radio=elsewhere), Air()) as events:
        assert "service and characteristic" in str(changed(events).text)


def test_a_link_that_is_closed_while_it_connects_lets_go_at_once() -> None:
    air = Air()
    air.answers = False
    connecting = threading.Event()
    air.history = _Told(connecting)
    with linked(PACKETS, air):
        assert connecting.wait(WAIT_S)


class _Told(list[str]):
    def __init__(self, event: threading.Event) -> None:
        self._event = event

    def append(self, item: str) -> None:
        super().append(item)
        self._event.set()


def test_what_notifies_is_heard_until_it_is_enough() -> None:
    air = Air()

    def enough(heard: Mapping[RadioPlace, list[bytes]]) -> bool:
        air.say(NUMBERS, b"+  12.345 ,MM\r\n")
        return len(heard[NUMBERS]) >= 3

    heard = heard_by_radio(PORT, WAIT_S, enough, backend=air.backend)
    assert list(heard) == [NUMBERS, BATTERY]
    assert SILENT not in heard
    assert heard[NUMBERS][:3] == [b"+  12.345 ,MM\r\n"] * 3
    assert heard[BATTERY] == []
    found = recognised_by_radio(PORT, heard)
    assert found.radio == NUMBERS
    assert [one.format_name for one in found.candidates] == ["length-8-unit"]


def test_packets_are_recognised_as_such_and_are_to_be_described() -> None:
    found = recognised_by_radio(PORT, {BATTERY: [], NUMBERS: [packet(1), packet(2)]})
    assert (found.candidates, found.radio) == ((), NUMBERS)
    assert "packets of 5 bytes" in str(found.text)
    assert "3A 02 00 00 00" in str(found.text)
    assert "silent" in str(recognised_by_radio(PORT, {NUMBERS: []}).text)
    assert "no instrument" in str(recognised_by_radio(PORT, {}).text)


def test_settings_of_radio_come_back_as_they_were_and_older_ones_have_none() -> None:
    entry = settings_to_json(PACKETS)
    assert settings_from_json(entry) == PACKETS
    cable = InstrumentSettings(name="c", port="/dev/x", format_name="bridge", quantity=Quantity.LENGTH)
    older = settings_to_json(cable)
    del older["radio"], older["options"]["packet"]
    assert settings_from_json(older).radio is None


def test_a_place_belongs_to_radio_and_to_nothing_else() -> None:
    with pytest.raises(BadInputError, match="characteristic"):
        replace(PACKETS, radio=None)
    with pytest.raises(BadInputError, match="characteristic"):
        replace(PACKETS, port="/dev/ttyUSB0")
    with pytest.raises(BadInputError, match="listened to"):
        replace(PACKETS, format_name="length-3.3", sends=Sends.ASKED)
    with pytest.raises(BadInputError, match="UUID"):
        RadioPlace(service="180a", characteristic=NUMBERS.characteristic)

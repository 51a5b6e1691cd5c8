"""The ordinary serial link on pseudo-terminals: real bytes, real descriptors, pulled and replugged cables."""

from __future__ import annotations

import errno
import queue
import termios
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from core.metrology.readings import Quantity, Unit
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.cable_link import words_for
from firmware_bridge.instrument_settings import InstrumentSettings, Sends
from firmware_bridge.links import make_link
from firmware_bridge.serial_link import translated
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.patience import WAIT_S


class Bench:
    """A link on a cable, and the queue its events go into."""

    def __init__(self, folder: Path, sends: Sends = Sends.STREAM, poll_s: float | None = None) -> None:
        self.cable = PseudoTerminal(folder / "caliper")
        self.settings = InstrumentSettings(
            name="caliper",
            port=str(self.cable.path),
            format_name="length-3.3",
            quantity=Quantity.LENGTH,
            sends=sends,
            poll_s=poll_s,
        )
        self.events: queue.Queue[LinkEvent] = queue.Queue()
        self.link = make_link(self.settings)

    def next(self) -> LinkEvent:
        return self.events.get(timeout=WAIT_S)

    def await_state(self, state: LinkState) -> LinkChanged:
        while True:
            event = self.next()
            if isinstance(event, LinkChanged) and event.state is state:
                return event

    def close(self) -> None:
        self.link.close()
        self.cable.pull()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path)
    yield bench
    bench.close()


def started(bench: Bench) -> Bench:
    bench.cable.plug()
    bench.link.start(bench.events.put)
    bench.await_state(LinkState.UP)
    return bench


def test_bytes_become_an_indication(bench: Bench) -> None:
    started(bench).cable.write(b"+012.345\r")
    event = bench.next()
    assert isinstance(event, IndicationArrived)
    assert (event.instrument, event.indication.shown, event.indication.unit) == ("caliper", 12.345, Unit.MM)
    assert not event.indication.requested


def test_garbage_becomes_a_fault_and_the_next_line_is_read(bench: Bench) -> None:
    started(bench).cable.write(b"\xff\x00\x80?\r+012.345\r")
    assert isinstance(bench.next(), FaultSeen)
    assert isinstance(bench.next(), IndicationArrived)


def test_an_absent_cable_is_said_once_and_found_when_plugged_in(bench: Bench) -> None:
    bench.link.start(bench.events.put)
    first = bench.next()
    assert isinstance(first, LinkChanged)
    assert (first.state, str(first.text)) == (LinkState.LOST, "not plugged in")
    bench.cable.plug()
    assert str(bench.await_state(LinkState.UP).text) == "length, cable at 4800 baud, 4800 7E2"
    assert bench.events.empty()


def test_a_pulled_cable_is_said_and_comes_back_by_itself(bench: Bench) -> None:
    started(bench)
    for value in range(20):
        bench.cable.write(f"+{value:03d}.500\r".encode())
        event = bench.next()
        assert isinstance(event, IndicationArrived)
        assert event.indication.shown == value + 0.5
        bench.cable.write(b"+99")
        bench.cable.pull()
        bench.await_state(LinkState.LOST)
        bench.cable.plug()
        bench.await_state(LinkState.UP)


def test_four_instruments_pulled_and_plugged_at_once_all_come_back_and_none_is_mixed_up(tmp_path: Path) -> None:
    folders = [tmp_path / str(number) for number in range(4)]
    for folder in folders:
        folder.mkdir()
    benches = [started(Bench(folder)) for folder in folders]
    for _ in range(3):
        for bench in benches:
            bench.cable.pull()
        for bench in benches:
            bench.await_state(LinkState.LOST)
        for bench in reversed(benches):
            bench.cable.plug()
        for number, bench in enumerate(benches):
            bench.await_state(LinkState.UP)
            bench.cable.write(f"+{number:03d}.000\r".encode())
        for number, bench in enumerate(benches):
            event = bench.next()
            assert isinstance(event, IndicationArrived)
            assert event.indication.shown == number
    for bench in benches:
        bench.close()


def test_the_port_is_held_exclusively(bench: Bench) -> None:
    started(bench)
    second = make_link(bench.settings)
    events: queue.Queue[LinkEvent] = queue.Queue()
    second.start(events.put)
    refused = events.get(timeout=WAIT_S)
    second.close()
    assert isinstance(refused, LinkChanged)
    assert str(refused.text) == "in use by another program"


def test_a_file_is_no_port(bench: Bench) -> None:
    bench.cable.path.write_text("no port\n")
    bench.link.start(bench.events.put)
    refused = bench.next()
    assert isinstance(refused, LinkChanged)
    assert str(refused.text) == "not a port an instrument can be on"
    bench.cable.path.unlink()


def test_closing_frees_thread_and_descriptors(tmp_path: Path) -> None:
    fd_folder = Path("/proc/self/fd")
    before = len(list(fd_folder.iterdir())), threading.active_count()
    bench = started(Bench(tmp_path))
    bench.close()
    assert (len(list(fd_folder.iterdir())), threading.active_count()) == before


def test_every_line_of_a_button_instrument_is_meant(tmp_path: Path) -> None:
    bench = started(Bench(tmp_path, sends=Sends.BUTTON))
    bench.cable.write(b"+012.345\r")
    event = bench.next()
    bench.close()
    assert isinstance(event, IndicationArrived)
    assert event.indication.requested


def answer_next_request(cable: PseudoTerminal, line: bytes) -> None:
    """Play the instrument: wait for one request on the wire and answer it."""
    asked = b""
    idle = threading.Event()
    while b"?\r" not in asked:
        asked += cable.read()
        idle.wait(0.001)
    cable.write(line)


def test_an_instrument_that_is_asked_answers_live_and_its_button_is_meant(tmp_path: Path) -> None:
    bench = started(Bench(tmp_path, sends=Sends.ASKED, poll_s=0.02))
    answer_next_request(bench.cable, b"+012.345\r")
    answered = bench.next()
    answer_next_request(bench.cable, b"+012.345\r+012.345\r")
    events = [answered, bench.next(), bench.next()]
    bench.close()
    assert [isinstance(event, IndicationArrived) and event.indication.requested for event in events] == [
        False,
        False,
        True,
    ]


def test_a_request_is_written_and_its_answer_meant(tmp_path: Path) -> None:
    bench = started(Bench(tmp_path, sends=Sends.ASKED))
    bench.link.request()
    answer_next_request(bench.cable, b"+012.345\r")
    event = bench.next()
    bench.close()
    assert isinstance(event, IndicationArrived)
    assert event.indication.requested


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (serial.SerialException("device reports readiness to read but returned no data"), "cable pulled"),
        (serial.SerialException(errno.EIO, "write failed"), "cable pulled"),
        (OSError(errno.EIO, "Input/output error"), "cable pulled"),
        (termios.error(errno.EIO, "Input/output error"), "cable pulled"),
        (serial.SerialException(errno.ENOENT, "could not open port"), "not plugged in"),
        (serial.SerialException(errno.EACCES, "could not open port"), "group"),
        (serial.SerialException(errno.EAGAIN, "Could not exclusively lock port"), "another program"),
        (serial.SerialTimeoutException("Write timeout"), "takes no request"),
        (serial.SerialException("Could not configure port: (25, 'Inappropriate ioctl for device')"), "not a port"),
        (ValueError("Failed to set custom baud rate (1234)"), "refuses these settings"),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), "Cannot allocate memory"),
    ],
)
def test_every_exception_of_a_port_has_words(error: Exception, words: str) -> None:
    with pytest.raises(OSError, match=r".") as caught, translated():
        raise error
    assert words in str(words_for(caught.value))

"""What is plugged in, under which stable path, and what it speaks, on pseudo-terminals and folders of links."""

from __future__ import annotations

import termios
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from serial.tools.list_ports_common import ListPortInfo

from core.metrology.readings import Quantity
from firmware_bridge.discovery import (
    SPARED_LOOKS,
    Adapter,
    PlugWatch,
    Port,
    adapters,
    keyboards,
    last_named,
    recognise,
    stable_ports,
)
from firmware_bridge.instrument_settings import Capture, Sends
from firmware_bridge.recognition import Ear, offered_settings, serial_formats, usual_framings
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from firmware_bridge.wire_formats import WIRE_FORMATS, Framing, wire_format


def adapter(device: Path, serial_number: str | None) -> Adapter:
    return Adapter(device=str(device), description="adapter", usb_id=(0x1234, 0x5678), serial_number=serial_number)


@pytest.fixture
def dev(tmp_path: Path) -> Path:
    for name in ("ttyUSB0", "ttyUSB1", "ttyACM0"):
        (tmp_path / name).touch()
    for name in ("by-id", "by-path"):
        (tmp_path / "serial" / name).mkdir(parents=True)
    return tmp_path


def link(dev: Path, folder: str, name: str, device: str) -> str:
    path = dev / "serial" / folder / name
    path.symlink_to(dev / device)
    return str(path)


def test_a_port_is_known_by_its_id(dev: Path) -> None:
    by_id = link(dev, "by-id", "usb-maker-A1-port0", "ttyUSB0")
    link(dev, "by-path", "usb-0:1.1-port0", "ttyUSB0")
    (port,) = stable_ports([adapter(dev / "ttyUSB0", "A1")], dev / "serial")
    assert (port.path, port.by_socket) == (by_id, False)


def test_twins_are_known_by_their_sockets(dev: Path) -> None:
    link(dev, "by-id", "usb-maker-port0", "ttyUSB1")  # the later twin takes the link from the first
    paths = [link(dev, "by-path", f"usb-0:1.{n}-port0", f"ttyUSB{n}") for n in (0, 1)]
    ports = stable_ports([adapter(dev / f"ttyUSB{n}", None) for n in (0, 1)], dev / "serial")
    assert [port.path for port in ports] == paths
    assert all(port.by_socket for port in ports)


def test_adapters_that_share_a_serial_number_are_known_by_their_sockets_only_while_both_are_there(dev: Path) -> None:
    by_id = link(dev, "by-id", "usb-maker-0001-port0", "ttyUSB0")
    paths = [link(dev, "by-path", f"usb-0:1.{n}-port0", f"ttyUSB{n}") for n in (0, 1)]
    both = [adapter(dev / f"ttyUSB{n}", "0001") for n in (0, 1)]
    assert [port.path for port in stable_ports(both, dev / "serial")] == paths
    assert [port.path for port in stable_ports(both[:1], dev / "serial")] == [by_id]


def test_a_port_the_system_has_not_named_yet_is_not_offered_under_a_passing_name(dev: Path) -> None:
    found = [adapter(dev / "ttyUSB0", "A1")]
    assert stable_ports(found, dev / "serial", named_by_system=True) == ()
    by_id = link(dev, "by-id", "usb-maker-A1-port0", "ttyUSB0")
    assert [port.path for port in stable_ports(found, dev / "serial", named_by_system=True)] == [by_id]


def test_keyboards_are_listed_and_left_alone_until_asked(dev: Path) -> None:
    link(dev, "by-id", "usb-typing_caliper-event-kbd", "ttyACM0")
    link(dev, "by-id", "usb-mouse-event-mouse", "ttyUSB0")
    (dev / "serial").rename(dev / "input")
    (port,) = keyboards(dev / "input")
    assert port.description == "usb-typing_caliper"
    found = recognise(port.path)
    assert "let it be asked" in str(found.text)
    assert found.candidates == ()


def test_an_instrument_that_types_is_offered_with_its_button() -> None:
    ear = Ear(Framing(), [wire_format("typed-length")])
    ear.feed(b"120.34\r" * 5)
    settings = offered_settings(ear.candidates()[0], "/dev/input/by-id/x-event-kbd", [])
    assert (settings.sends, settings.capture) == (Sends.BUTTON, Capture.DATA_BUTTON)


def test_a_port_on_the_board_keeps_its_name(dev: Path) -> None:
    (port,) = stable_ports([Adapter(device=str(dev / "ttyACM0"), description="uart")], dev / "no-such-folder")
    assert port.path == str(dev / "ttyACM0")


def test_the_systems_own_list_can_be_read() -> None:
    assert all(found.device.startswith("/dev/") for found in adapters())


def test_an_adapter_pulled_while_it_is_looked_at_costs_no_other_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """Seen on the emulated board: the library's own TypeError ended the search for cables until the next start."""
    looks = iter([TypeError("int() can't convert non-string with explicit base"), [ListPortInfo("/dev/ttyUSB1")]])

    def comports() -> list[ListPortInfo]:
        look = next(looks)
        if isinstance(look, Exception):
            raise look
        return look

    monkeypatch.setattr("serial.tools.list_ports.comports", comports)
    assert [adapter.device for adapter in adapters()] == ["/dev/ttyUSB1"]


def test_what_comes_and_goes_is_told_once() -> None:
    one, two = (Port(path=name, device=name, description="") for name in "ab")
    looks = iter([(one,), (one, two), (two,), (two,)])
    watch = PlugWatch(lambda: next(looks))
    assert [watch.changes() for _ in range(4)] == [((one,), ()), ((two,), ()), ((), (one,)), ((), ())]


def test_ports_are_listed_only_when_a_device_was_named_or_gone_and_now_and_then(tmp_path: Path) -> None:
    looked: list[int] = []

    def look() -> tuple[Port, ...]:
        looked.append(turn)
        return tuple(Port(path=path.name, device=path.name, description="") for path in tmp_path.iterdir())

    watch = PlugWatch(look, named=lambda: last_named((tmp_path, tmp_path / "none")))
    came = []
    for turn in range(2 * SPARED_LOOKS + 5):
        if turn == SPARED_LOOKS + 5:
            before = last_named((tmp_path,))
            while last_named((tmp_path,)) == before:  # within a tick of the file system's clock
                (tmp_path / "adapter").unlink(missing_ok=True)
                (tmp_path / "adapter").touch()
        came.append([port.path for port in watch.changes()[0]])
    again = SPARED_LOOKS + 5
    assert looked == [0, 1, SPARED_LOOKS, SPARED_LOOKS + 1, again, again + 1]
    assert [turn for turn, ports in enumerate(came) if ports] == [again]


def test_a_device_that_comes_in_the_tick_it_was_looked_in_is_seen_at_the_next_look() -> None:
    one = Port(path="a", device="a", description="")
    looks = iter([(), (one,)])
    watch = PlugWatch(lambda: next(looks), named=lambda: 1)
    assert [watch.changes()[0] for _ in range(3)] == [(), (one,), ()]


STREAMS = {
    "length-8-unit": b"+  12.345 MM\r\n",
    "angle-x": b"X=+90.430\r\n",
    "angle-lettered": b"APD 89.95\r",
    "channels-lettered": b"01A-001.2340\r02A+003.0000\r",
    "length-3.3": b"+0123.456\r",
}


@contextmanager
def speaking(folder: Path, speak: Callable[[PseudoTerminal], None]) -> Iterator[PseudoTerminal]:
    """A cable whose instrument speaks every few milliseconds, in a thread of its own."""
    cable = PseudoTerminal(folder / "port")
    cable.plug()
    done = threading.Event()

    def run() -> None:
        while not done.wait(0.005):
            speak(cable)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield cable
    finally:
        done.set()
        thread.join()
        cable.pull()


@pytest.mark.parametrize("name", STREAMS)
def test_a_streaming_instrument_is_recognised(name: str, tmp_path: Path) -> None:
    with speaking(tmp_path, lambda cable: cable.write(STREAMS[name])) as cable:
        found = recognise(str(cable.path), framings=[wire_format(name).framing])
    assert found.candidates[0].format_name == name
    assert found.candidates[0].certain
    settings = offered_settings(found.candidates[0], str(cable.path), ["caliper"])
    assert (settings.sends, settings.capture) == (Sends.STREAM, Capture.STEADY_HOLD)
    assert settings.name == ("angle gauge" if settings.quantity is Quantity.ANGLE else "caliper 2")
    if name == "channels-lettered":
        assert dict(settings.channels) == {"1": "caliper 2 1", "2": "caliper 2 2"}


def test_an_instrument_that_is_asked_is_found_only_when_asking_is_allowed(tmp_path: Path) -> None:
    def answer(cable: PseudoTerminal) -> None:
        if b"?\r" in cable.read():
            cable.write(b"+012.345\r")

    framing = [wire_format("length-3.3").framing]
    with speaking(tmp_path, answer) as cable:
        silent = recognise(str(cable.path), listen_s=0.1, press_s=0.1, framings=framing)
        found = recognise(str(cable.path), ask=True, listen_s=0.3, framings=framing)
    assert silent.candidates == ()
    assert "press its data button" in str(silent.text)
    settings = offered_settings(found.candidates[0], str(cable.path), [])
    assert (settings.format_name, settings.sends) == ("length-3.3", Sends.ASKED)


def at_its_button(framing: Framing, line: bytes, every_s: float) -> Callable[[PseudoTerminal], None]:
    """An instrument that speaks only when it is pressed: what comes is its line at its own speed, else other bytes."""
    pressed_s = [time.monotonic()]

    def press(cable: PseudoTerminal) -> None:
        if time.monotonic() - pressed_s[0] >= every_s:
            pressed_s[0] = time.monotonic()
            speed = termios.tcgetattr(cable._host_fd)[4]
            cable.write(line if speed == getattr(termios, f"B{framing.baud}") else b"\xf8\x1e\x80\xfe")

    return press


@pytest.mark.parametrize(("name", "line"), [("length-3.3", b"+012.345\r"), ("length-8-unit", b" 12.345 MM\r\n")])
def test_one_that_speaks_only_at_its_data_button_is_waited_for_under_every_framing(
    name: str, line: bytes, tmp_path: Path
) -> None:
    framing = wire_format(name).framing
    framings = [Framing(baud=300), Framing(baud=1200), Framing(baud=2400), framing, Framing(baud=600)]
    with speaking(tmp_path, at_its_button(framing, line, every_s=0.3)) as cable:
        found = recognise(str(cable.path), listen_s=0.05, press_s=60.0, framings=framings)
    settings = offered_settings(found.candidates[0], str(cable.path), [])
    assert (settings.format_name, settings.sends) == (name, Sends.BUTTON)


def test_listening_writes_nothing(tmp_path: Path) -> None:
    """The port may be a machine's controller."""
    cable = PseudoTerminal(tmp_path / "port")
    cable.plug()
    recognise(str(cable.path), listen_s=0.05, press_s=0.05)
    written = cable.read()
    cable.pull()
    assert written == b""


def test_a_port_that_does_not_work_has_words(tmp_path: Path) -> None:
    assert str(recognise(str(tmp_path / "nothing")).text) == "not plugged in"


def test_formats_that_look_alike_are_all_offered() -> None:
    framing = wire_format("channels-first").framing
    ear = Ear(framing, serial_formats(framing))
    ear.feed(b"001, -1.2340, NRM, 04\r\n" * 4)
    assert {candidate.format_name for candidate in ear.candidates()} == {"channels-first", "channels-last"}


def test_every_serial_format_is_listened_for() -> None:
    heard = {row.name for framing in usual_framings() for row in serial_formats(framing)}
    assert heard == {name for name, row in WIRE_FORMATS.items() if not (row.typed or row.packets)}

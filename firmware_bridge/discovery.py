"""What is plugged in, and what it speaks. Input: the system's serial ports; output: ports by stable path, recognitions.

A port is known by /dev/serial/by-id. Adapters that share a serial number, or have none, could be mistaken for each
other there: they are known by-path, that is by the socket they are plugged into, and it is said.

Listening writes nothing: a serial port of this computer may be a machine's controller. Only when the person agrees is
an instrument asked; and only then is the air listened to (`radio_ports`), which is no port that comes by itself.
"""

from __future__ import annotations

import errno
import select
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from core.progress import Told, nobody
from core.said import Name, Said, Series, said
from firmware_bridge.cable_link import words_for
from firmware_bridge.decoders.packet_lines import packets_in
from firmware_bridge.hid_link import HIDRAW, HidCable, hid_devices
from firmware_bridge.instrument_settings import HID, RADIO, RadioPlace
from firmware_bridge.recognition import CERTAIN, Candidate, Ear, serial_formats, usual_framings
from firmware_bridge.wire_formats import WIRE_FORMATS, Framing, WireFormat

if TYPE_CHECKING:
    # The library comes with the first look, a moment behind the first screen.
    from serial.tools.list_ports_common import ListPortInfo

SERIAL_FOLDER = Path("/dev/serial")
KEYBOARD_FOLDER = Path("/dev/input")
DEVICE_FOLDERS = (
    Path("/dev"),
    *(folder / links for folder in (SERIAL_FOLDER, KEYBOARD_FOLDER) for links in ("by-id", "by-path")),
)
KEYBOARD_ENDING = "-event-kbd"
UDEV = Path("/run/udev/control")
LOOKS = 5  # more pulls than that in one look are no person's
SPARED_LOOKS = 20  # two of so many are made however still the folders are
LOOK_UP_S = 0.2  # who listens looks up so often whether the person still waits
TYPING_S = 8.0  # time for a person to press the data button
RADIO_S = 15.0  # the same, for one that sleeps until it is moved
MOST_FOUND = 8  # of what is in the air in a workshop beside a road, the nearest
LISTENING = said("if it has a data button, press it once a second")
LISTEN_S = 1.5  # the slowest streaming instruments speak four times a second


class Adapter(Struct, frozen=True, kw_only=True):
    """A serial device as the system lists it."""

    device: str
    description: str
    usb_id: tuple[int, int] | None = None
    serial_number: str | None = None

    @property
    def identity(self) -> tuple[tuple[int, int] | None, str | None]:
        """What its by-id link is made of."""
        return self.usb_id, self.serial_number


class Port(Struct, frozen=True, kw_only=True):
    """A port under its stable path; `by_socket` when it is known only by the socket it is in, `built_in` when nothing
    was plugged in: a port of the computer itself, which may be its console."""

    path: str
    device: str
    description: str
    by_socket: bool = False
    built_in: bool = False

    @property
    def is_keyboard(self) -> bool:
        """True for a keyboard, most of which are no instruments."""
        return self.path.endswith(KEYBOARD_ENDING)


class Recognition(Struct, frozen=True, kw_only=True):
    """What a port was heard to speak: candidates best first, and the finding in a sentence; on radio also where it was
    said, or where it can be said."""

    port: str
    candidates: tuple[Candidate, ...]
    text: Said
    radio: RadioPlace | None = None


def adapters() -> list[Adapter]:
    """The serial devices of this computer, in order of their device names."""
    return [
        Adapter(
            device=found.device,
            description=found.product or found.name,
            usb_id=None if found.vid is None else (found.vid, found.pid),
            serial_number=found.serial_number,
        )
        for found in sorted(_listed(), key=lambda found: found.device)
    ]


def _listed() -> list[ListPortInfo]:
    """What the library lists. An adapter pulled while it reads it makes it fail for all of them (TypeError, from a file
    of sysfs that is gone): the next look no longer finds that one.
    """
    from serial.tools import list_ports

    for _ in range(LOOKS - 1):
        with suppress(TypeError, OSError):
            return list(list_ports.comports())
    return list(list_ports.comports())


def stable_ports(
    found: Sequence[Adapter], serial_folder: Path = SERIAL_FOLDER, *, named_by_system: bool = False
) -> tuple[Port, ...]:
    """Give each adapter the path under which it is found again.

    Where the system names ports (`named_by_system`), one it has not named yet is left out: it will be in a moment.
    """
    by_id, by_path = _links(serial_folder / "by-id"), _links(serial_folder / "by-path")
    alike = Counter(adapter.identity for adapter in found)
    ports = []
    for adapter in found:
        real = str(Path(adapter.device).resolve())
        is_usb = adapter.usb_id is not None
        by_socket = is_usb and (adapter.serial_number is None or alike[adapter.identity] > 1)
        path = by_path.get(real) if by_socket else by_id.get(real, by_path.get(real))
        if path is None and is_usb and named_by_system:
            continue
        ports.append(
            Port(
                path=path or adapter.device,  # a port soldered to the board keeps its name
                device=adapter.device,
                description=adapter.description,
                by_socket=by_socket,
                built_in=not is_usb,
            )
        )
    return tuple(ports)


def keyboards(folder: Path = KEYBOARD_FOLDER) -> tuple[Port, ...]:
    """USB keyboards, of which one may be an instrument that types; two alike are known by their sockets."""
    links = _links(folder / "by-id") or _links(folder / "by-path")
    return tuple(
        Port(path=path, device=device, description=Path(path).name.removesuffix(KEYBOARD_ENDING))
        for device, path in links.items()
        if path.endswith(KEYBOARD_ENDING)
    )


def hid_ports(listed: Path = HIDRAW) -> tuple[Port, ...]:
    """What sends USB reports and is no keyboard."""
    return tuple(
        Port(path=one.port, device=one.device, description=one.name, by_socket=one.by_socket)
        for one in hid_devices(listed)
    )


def plugged_in(hidraw: Path = HIDRAW) -> tuple[Port, ...]:
    """The ports of this computer now: serial, keyboards, USB reports."""
    return stable_ports(adapters(), named_by_system=UDEV.exists()) + keyboards() + hid_ports(hidraw)


def radio_ports(told: Told = nobody) -> tuple[Port, ...]:
    """What is in the air, the nearest first; blocks for some seconds, and says how far it is. Raises OSError where no
    radio works."""
    try:
        from firmware_bridge.radio_link import found_by_radio
    except ImportError as error:
        raise OSError(errno.ENOSYS, str(error)) from error
    return tuple(
        Port(path=RADIO + one.address, device=one.address, description=one.name)
        for one in found_by_radio(told=told)[:MOST_FOUND]
    )


def last_named(folders: Sequence[Path] = DEVICE_FOLDERS) -> tuple[int | None, ...]:
    """When something last came into or went from each folder in which the system names devices, ns; None without it."""
    return tuple(map(_changed_ns, folders))


def _changed_ns(folder: Path) -> int | None:
    try:
        return folder.stat().st_mtime_ns
    except OSError:
        return None


class PlugWatch:
    """Tells what was plugged in or pulled since it was last asked; `look` lists the ports.

    Listing them is most of what an idle bench does, so it is spared while what `named` says stays the same: seen a
    second time, for a device may come within the tick of the clock that it was first seen in, and not for long. As it
    comes, no two looks are the same.
    """

    def __init__(self, look: Callable[[], Sequence[Port]] = plugged_in, named: Callable[[], object] = object) -> None:
        self._look = look
        self._named = named
        self._seen: object = None
        self._same = 0
        self._known: dict[str, Port] = {}

    def changes(self) -> tuple[tuple[Port, ...], tuple[Port, ...]]:
        """Ports that came, and ports that went."""
        seen = self._named()
        self._same = self._same + 1 if seen == self._seen else 0
        self._seen = seen
        if self._same % SPARED_LOOKS > 1:
            return (), ()
        now = {port.path: port for port in self._look()}
        before, self._known = self._known, now
        came = tuple(port for path, port in now.items() if path not in before)
        return came, tuple(port for path, port in before.items() if path not in now)


def recognise(
    path: str,
    *,
    ask: bool = False,
    listen_s: float = LISTEN_S,
    press_s: float = TYPING_S,
    clock: Callable[[], float] = time.monotonic,
    framings: Sequence[Framing] | None = None,
    told: Told = nobody,
) -> Recognition:
    """Listen to a port under each usual framing until a format is certain; with `ask`, send each format's request.

    One that speaks only at its data button is waited for, `press_s` for each press, until it has been understood.
    Blocks for some seconds, and `told` hears how far it is: run it beside the bench, never in it. Never raises for a
    port that does not work.
    """
    if path.endswith(KEYBOARD_ENDING):
        return _recognise_typing(path, ask=ask, clock=clock, told=told)
    if path.startswith(RADIO):
        return _recognise_by_radio(path, told)
    if path.startswith(HID):
        return _recognise_reports(path, clock, told)
    found: list[Candidate] = []
    heard = 0
    framings = framings or usual_framings()
    try:
        for place, framing in enumerate(framings):
            told_place = partial(told, place, len(framings))
            spoke_at_its_button = heard > 0 and not found
            begins_s = press_s if spoke_at_its_button or not (place or ask) else listen_s
            ears = [_listen(path, framing, serial_formats(framing), None, begins_s, listen_s, clock, told_place)]
            if ask and not ears[0].bytes_heard:
                askable = [row for row in serial_formats(framing) if row.request]
                ears += [
                    _listen(path, framing, [row], row.request, listen_s, listen_s, clock, told_place) for row in askable
                ]
            heard += sum(ear.bytes_heard for ear in ears)
            found += [candidate for ear in ears for candidate in ear.candidates()]
            if any(candidate.certain for candidate in found) or not (heard or ask):
                # Bytes at a wrong speed are still bytes: silence under one framing is silence under all.
                break
    except OSError as error:
        return Recognition(port=path, candidates=(), text=words_for(error))
    found.sort(key=lambda one: (not one.certain, one.faults - one.indications))
    return Recognition(port=path, candidates=tuple(found), text=_sentence(found, heard))


def _listen(
    path: str,
    framing: Framing,
    formats: Sequence[WireFormat],
    request: bytes | None,
    begins_s: float,
    listen_s: float,
    clock: Callable[[], float],
    told: Callable[[], None],
) -> Ear:
    """What comes within `listen_s`, once it has begun to come within `begins_s`."""
    from firmware_bridge.serial_link import SerialCable

    ear = Ear(framing, formats, asked=request is not None)
    cable = SerialCable(path, framing)
    try:
        until_s = clock() + begins_s
        if request is not None:
            cable.write(request)
        while (left_s := until_s - clock()) > 0.0:
            told()
            data = cable.read_within(min(left_s, LOOK_UP_S))
            if data and not ear.bytes_heard:
                until_s = clock() + listen_s
            ear.feed(data)
            if any(candidate.certain for candidate in ear.candidates()):
                break
            if request is not None and data.endswith((b"\r", b"\n")):
                cable.write(request)
    finally:
        cable.close()
    return ear


def _recognise_typing(path: str, *, ask: bool, clock: Callable[[], float], told: Told) -> Recognition:
    """Watch a keyboard, without taking it from the person, for a number and Enter or Tab."""
    if not ask:
        text = said("a keyboard: if it is an instrument that types, let it be asked and press its data button")
        return Recognition(port=path, candidates=(), text=text)
    try:
        from firmware_bridge.keyboard_link import KeyboardCable
    except ImportError:
        return Recognition(port=path, candidates=(), text=said("instruments that type need the library evdev"))
    ear = Ear(Framing(), [row for row in WIRE_FORMATS.values() if row.typed])
    try:
        keyboard = KeyboardCable(path, clock, exclusive=False)
        try:
            until_s = clock() + TYPING_S
            while (left_s := until_s - clock()) > 0.0 and not ear.candidates():
                _told_left(told, left_s)
                ready, _, _ = select.select([keyboard.fileno()], [], [], min(left_s, LOOK_UP_S))
                ear.feed(keyboard.read() if ready else b"")
        finally:
            keyboard.close()
    except OSError as error:
        return Recognition(port=path, candidates=(), text=words_for(error))
    found = ear.candidates()
    return Recognition(port=path, candidates=tuple(found), text=_sentence(found, ear.bytes_heard))


def _recognise_by_radio(path: str, told: Told) -> Recognition:
    """Hear everything that notifies; lines may be in a known format, packets must be described by hand."""
    try:
        from firmware_bridge.radio_link import heard_by_radio
    except ImportError:
        return Recognition(port=path, candidates=(), text=said("radio needs the library bleak"))
    try:
        heard = heard_by_radio(
            path, RADIO_S, lambda said: any(len(parts) >= CERTAIN for parts in said.values()), told=told
        )
    except OSError as error:
        return Recognition(port=path, candidates=(), text=words_for(error))
    return recognised_by_radio(path, heard)


def recognised_by_radio(path: str, heard: Mapping[RadioPlace, Sequence[bytes]]) -> Recognition:
    """What was notified, by the place that said most."""
    if not heard:
        return Recognition(
            port=path, candidates=(), text=said("connected, and it has nothing that notifies: no instrument")
        )
    place = max(heard, key=lambda one: len(heard[one]))
    parts = heard[place]
    ears = [Ear(framing, serial_formats(framing)) for framing in usual_framings()]
    for ear in ears:
        ear.feed(b"".join(parts))
    # The framing is nothing to radio: of formats that read the same number, the first under the commonest one.
    found = {(one.last, one.channels): one for ear in reversed(ears) for one in reversed(ear.candidates())}
    candidates = tuple(sorted(found.values(), key=lambda one: one.faults - one.indications))
    if candidates:
        return Recognition(port=path, candidates=candidates, text=_sentence(candidates, 1), radio=place)
    return Recognition(port=path, candidates=(), text=_packets_sentence(parts), radio=place)


def _recognise_reports(path: str, clock: Callable[[], float], told: Told) -> Recognition:
    try:
        cable = HidCable(path)
    except OSError as error:
        return Recognition(port=path, candidates=(), text=words_for(error))
    heard = bytearray()
    try:
        until_s = clock() + TYPING_S
        while (left_s := until_s - clock()) > 0.0 and len(packets_in(bytes(heard))) < CERTAIN:
            _told_left(told, left_s)
            heard += cable.read_within(min(left_s, LOOK_UP_S))
    except OSError as error:
        return Recognition(port=path, candidates=(), text=words_for(error))
    finally:
        cable.close()
    return Recognition(port=path, candidates=(), text=_packets_sentence(packets_in(bytes(heard))))


def _told_left(told: Told, left_s: float) -> None:
    """How much of the time is gone in which a person may press the data button."""
    told(int(1000 * (TYPING_S - left_s)), int(1000 * TYPING_S))


def _packets_sentence(packets: Sequence[bytes]) -> Said:
    if not packets:
        return said("connected and silent: move it, or press its data button, then listen again")
    newest = packets[-1].hex(" ").upper()
    return said(
        "packets of {count} bytes, the newest {newest}",
        count=len(packets[-1]),
        newest=Name(newest),
    )


def _sentence(found: Sequence[Candidate], heard: int) -> Said:
    if found:
        titles = dict.fromkeys(WIRE_FORMATS[candidate.format_name].title for candidate in found)
        return said("speaks {formats}", formats=Series(tuple(titles), joint=" / "))
    if heard:
        return said("{count} bytes in no format known here: choose format and speed by hand", count=heard)
    return said("silent: press its data button, or let it be asked")


def _links(folder: Path) -> dict[str, str]:
    """Real device path to the link that names it; the first by name where several do."""
    if not folder.is_dir():
        return {}
    try:
        return {str(link.resolve()): str(link) for link in sorted(folder.iterdir(), reverse=True)}
    except OSError:
        # A loose plug: the system takes the folder away while it is listed, and makes it anew.
        return {}

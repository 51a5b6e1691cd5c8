"""`cornerwise instruments`: what is plugged in, what it speaks, what it says, how often, and what was refused.

Input: the computer's ports and the remembered instruments (or the simulated workshop's, or a capture). Output: a
paragraph a port; captures where asked for. Status 69 when there is nothing to look at.
"""

from __future__ import annotations

import argparse
import math
import queue
import re
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from core.errors import BadInputError, NotAvailableError
from core.metrology.readings import Indication
from core.said import Name, said
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.discovery import Port, plugged_in, recognise
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.recording import Recorder, played, read_capture
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.wire_formats import WIRE_FORMATS, WireFormat
from ui.command_line import instrument_arguments
from ui.command_line.data_folder import data_folder
from ui.command_line.prove_layout import prove
from ui.speech.speech import Speech
from ui.start import simulated_cables
from ui.terminal.exit_status import ExitStatus

LISTEN_S = 3.0


@dataclass(slots=True)
class Heard:
    """What one instrument said while it was listened to."""

    cable: str = "not opened"
    arrivals_s: list[float] = field(default_factory=list)
    last: Indication | None = None
    faults: Counter[str] = field(default_factory=Counter)

    def take(self, event: LinkEvent) -> None:
        """Count an event."""
        match event:
            case IndicationArrived(indication=indication, arrived_s=arrived_s):
                self.arrivals_s.append(arrived_s)
                self.last = indication
            case FaultSeen(fault=fault):
                self.faults[fault.text] += 1
            case LinkChanged(state=state, text=text):
                self.cable = "up" if state is LinkState.UP else text

    def lines(self) -> Iterator[str]:
        """What to say about it."""
        yield f"  cable: {self.cable}"
        yield f"  says: {self._says()}"
        for text, count in self.faults.most_common():
            yield f"  refused {count}: {text}"

    def _says(self) -> str:
        if self.last is None:
            return "nothing while it was listened to: press its data button"
        number = f"{self.last.shown:.{self.last.decimals}f} {self.last.unit}"
        span_s = self.arrivals_s[-1] - self.arrivals_s[0]
        rate = f", {(len(self.arrivals_s) - 1) / span_s:.1f} a second" if span_s > 0.0 else ""
        return f"{number} ({len(self.arrivals_s)} indications{rate})"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `instruments` with its options."""
    parser = subparsers.add_parser(
        "instruments",
        help="what is plugged in, what it speaks, what it says",
        description="Listens to the instruments it knows for a few seconds. Opens no other port unless --open, and "
        "writes nothing to one unless --ask: a serial port may be a machine's controller, which may reset when opened.",
    )
    parser.add_argument("--listen", type=_seconds, default=LISTEN_S, metavar="S", help="how long to listen, in seconds")
    parser.add_argument(
        "--open", action="store_true", help="open ports that nobody chose and listen to them: raises DTR and RTS there"
    )
    parser.add_argument("--ask", action="store_true", help="send strange ports the requests of known instruments")
    parser.add_argument("--record", type=Path, metavar="DIR", help="save what came down each known cable")
    parser.add_argument("--replay", type=Path, metavar="FILE", help="say what a saved capture holds, event by event")
    parser.add_argument("--simulate", action="store_true", help="look at the simulated workshop's instruments")
    parser.add_argument("--formats", action="store_true", help="list the formats that are understood")
    parser.add_argument(
        "--set", metavar="NAME", help="remember an instrument under this name, as the options below say"
    )
    parser.add_argument("--prove", metavar="NAME", help="find the layout of its binary frames by opening its jaws")
    parser.add_argument("--forget", metavar="PORT", help="forget the instrument on this port")
    parser.add_argument(
        "--data", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="where instruments are remembered"
    )
    instrument_arguments.add_arguments(parser)
    parser.set_defaults(run=run)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0.0 < seconds < math.inf:
        raise argparse.ArgumentTypeError(f"{text}: it must be a number of seconds above zero")
    return seconds


def run(args: argparse.Namespace) -> int:
    """Look, listen and say."""
    if args.replay is not None:
        return _replay(args.replay, args.speech)
    if args.simulate:
        with simulated_cables() as known:
            print(args.speech.say("SIMULATED: instruments of the simulated workshop"))
            _say_known(known, args)
        return ExitStatus.OK
    if args.formats:
        for row in WIRE_FORMATS.values():
            _say_format(row, args.speech)
        return ExitStatus.OK
    store = SettingsStore(data_folder(args.data, simulated=False))
    if args.prove is not None:
        return prove(store, args.prove, args.speech)
    if args.forget is not None:
        return _forget(store, args.forget, args.speech)
    if args.set is not None:
        settings = instrument_arguments.settings_from(args)
        store.remember(settings)
        print(args.speech.say(f"{settings.name} on {settings.port} is remembered: {settings.speaks}"))
        return ExitStatus.OK
    known = store.load()
    ports = plugged_in()
    if not ports and not known:
        raise NotAvailableError(said("no serial port is plugged in and no instrument is remembered"))
    _say_known(known, args)
    remembered = {settings.port for settings in known}
    for port in ports:
        if port.path not in remembered:
            _say_stranger(port, args.speech, opens=args.open, ask=args.ask)
    return ExitStatus.OK


def _say_format(row: WireFormat, speech: Speech) -> None:
    """A row of the table: name, what it is, then its lines as manuals print them, between bars, for blanks count."""
    usually = "" if row.typed else f", usually {row.framing}"
    print(f"{row.name:<18} {speech.say(row.title + usually)}")
    begin = " " * 19
    if row.lines:
        print(begin + "  ".join(f"|{line}|" for line in row.lines))
    if row.other_framings:
        print(begin + speech.say(f"or {', '.join(str(framing) for framing in row.other_framings)}"))
    if row.request:
        print(begin + speech.say(f"asked by {row.request.decode().replace(chr(13), ' CR')}"))
    if row.bits:
        print(begin + speech.say(f"layouts of its bits: {', '.join(LAYOUTS)}"))


def listen(known: Sequence[InstrumentSettings], seconds: float, record: Path | None = None) -> dict[str, Heard]:
    """Open the links of these instruments for so long; what each said, by name, in the settings' order."""
    heard = {name: Heard() for settings in known for name in settings.instruments}
    if not known:
        return heard
    events: queue.Queue[LinkEvent] = queue.Queue()
    with ExitStack() as stack:
        for settings in known:
            link = make_link(settings, _recorder(settings, record, stack))
            link.start(events.put)
            stack.callback(link.close)
        until_s = time.monotonic() + seconds
        while (left_s := until_s - time.monotonic()) > 0.0:
            try:
                event = events.get(timeout=left_s)
            except queue.Empty:
                break
            heard.setdefault(event.instrument, Heard()).take(event)
    return heard


def _recorder(settings: InstrumentSettings, folder: Path | None, stack: ExitStack) -> Recorder | None:
    if folder is None:
        return None
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / (re.sub(r"[^A-Za-z0-9_-]+", "-", settings.name) + ".capture")
    if file.exists():
        raise BadInputError(
            said("{file} exists: a capture is not written over; choose another folder", file=Name(str(file)))
        )
    recorder = Recorder(file, settings, datetime.now(UTC))
    stack.callback(recorder.close)
    return recorder


def _say_known(known: Sequence[InstrumentSettings], args: argparse.Namespace) -> None:
    heard = listen(known, args.listen, args.record)
    for settings in known:
        for name in settings.instruments:
            print(args.speech.say(f"{name}: {settings.port}"))
            print(args.speech.say("\n".join((f"  speaks: {settings.speaks}", *heard[name].lines()))))
    if args.record is not None:
        print(args.speech.say(f"captures saved in {args.record}"))


def _say_stranger(port: Port, speech: Speech, *, opens: bool, ask: bool) -> None:
    print(speech.say(f"{port.description} on {port.path}: not set up as an instrument"))
    if port.by_socket:
        print(speech.say("  has no serial number of its own: known by the socket it is in"))
    if port.built_in and not ask:
        print(speech.say("  a port of this computer itself: not listened to without --ask"))
        return
    if not (opens or ask or port.is_keyboard):
        print(speech.say("  not opened: with --open it is listened to"))
        return
    found = recognise(port.path, ask=ask)
    print(speech.say(f"  {found.text}"))
    for candidate in found.candidates:
        last = candidate.last
        shown = f"{candidate.format_name}, {candidate.framing}: {last.shown:.{last.decimals}f} {last.unit}"
        print(speech.say(f"  {shown} ({candidate.indications} indications, {candidate.faults} refused)"))


def _forget(store: SettingsStore, port: str, speech: Speech) -> int:
    settings = store.for_port(port)
    if settings is None:
        raise BadInputError(said("port {port}: no instrument is remembered there", port=Name(port)))
    store.forget(port)
    print(speech.say(f"{settings.name} on {port} is forgotten"))
    return ExitStatus.OK


def _replay(file: Path, speech: Speech) -> int:
    capture = read_capture(file)
    settings = capture.settings
    print(speech.say(f"REPLAY of {file}: {settings.name}, {settings.speaks}"))
    for line in _event_lines(played(capture)):
        print(speech.say(line))
    return ExitStatus.OK


def _event_lines(events: Iterable[IndicationArrived | FaultSeen]) -> Iterator[str]:
    for event in events:
        begin = f"{event.arrived_s:10.3f} s  {event.instrument}  "
        if isinstance(event, FaultSeen):
            yield f"{begin}refused ({event.fault.reason}): {event.fault.text} {event.fault.raw!r}"
        else:
            indication = event.indication
            meant = "  (meant as a reading)" if indication.requested else ""
            yield f"{begin}{indication.shown:.{indication.decimals}f} {indication.unit}{meant}"

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
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct, field

from core.errors import BadInputError, NotAvailableError
from core.metrology import Indication
from core.said import Column, Name, Number, Part, Said, Series, lines, said, said_counted
from firmware_bridge import (
    LISTENING,
    Candidate,
    FaultSeen,
    IndicationArrived,
    InstrumentSettings,
    LinkChanged,
    LinkEvent,
    LinkState,
    Port,
    Recorder,
    SettingsStore,
    make_link,
    played,
    plugged_in,
    radio_ports,
    read_capture,
    recognise,
    words_for,
)
from ui.command_line import instrument_arguments
from ui.command_line.data_folder import data_folder
from ui.command_line.format_table import format_table
from ui.command_line.prove_layout import prove
from ui.speech import Speech
from ui.terminal import ExitStatus
from ui.terminal.indented import indented

LISTEN_S = 3.0


class Heard(Struct):
    """What one instrument said while it was listened to."""

    cable: Part = field(default_factory=lambda: said("not opened"))
    arrivals_s: list[float] = field(default_factory=list)
    last: Indication | None = None
    faults: Counter[Said] = field(default_factory=Counter)

    def take(self, event: LinkEvent) -> None:
        """Count an event."""
        match event:
            case IndicationArrived(indication=indication, arrived_s=arrived_s):
                self.arrivals_s.append(arrived_s)
                self.last = indication
            case FaultSeen(fault=fault):
                self.faults[fault.text] += 1
            case LinkChanged(state=state, text=text):
                self.cable = said("up") if state is LinkState.UP else text

    def lines(self) -> Iterator[Part]:
        """What to say about it."""
        yield said("cable: {state}", state=self.cable)
        yield said("says: {what}", what=self._says())
        for text, count in self.faults.most_common():
            yield said("refused {count}: {why}", count=count, why=text)

    def _says(self) -> Said:
        if self.last is None:
            return said("nothing while it was listened to: press its data button")
        count, shown = len(self.arrivals_s), _as_shown(self.last)
        span_s = self.arrivals_s[-1] - self.arrivals_s[0]
        if span_s > 0.0:
            rate = Number((count - 1) / span_s, 1)
            return said("{shown} ({count} indications, {rate} a second)", shown=shown, count=count, rate=rate)
        return said_counted("{shown} ({count} indication)", "{shown} ({count} indications)", count=count, shown=shown)


def _as_shown(indication: Indication) -> Number:
    """The number as the instrument displays it, in its own unit."""
    return Number(indication.shown, indication.decimals, indication.unit.value)


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
    parser.add_argument(
        "--radio", action="store_true", help="listen for instruments in the air as well; nothing does without it"
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
        from ui.start import simulated_cables

        with simulated_cables() as known:
            print(args.speech.say(said("SIMULATED: instruments of the simulated workshop")))
            _say_known(known, args)
        return ExitStatus.OK
    if args.formats:
        for row in format_table():
            print(args.speech.say(row).rstrip())
        return ExitStatus.OK
    store = SettingsStore(data_folder(args.data, simulated=False))
    if args.prove is not None:
        return prove(store, args.prove, args.speech)
    if args.forget is not None:
        return _forget(store, args.forget, args.speech)
    if args.set is not None:
        settings = instrument_arguments.settings_from(args)
        store.remember(settings)
        remembered = said(
            "{name} on {port} is remembered: {speaks}",
            name=Name(settings.name),
            port=Name(settings.port),
            speaks=settings.speaks,
        )
        print(args.speech.say(remembered))
        return ExitStatus.OK
    known = store.load()
    ports = plugged_in() + (_in_the_air() if args.radio else ())
    if not ports and not known:
        raise NotAvailableError(said("no serial port is plugged in and no instrument is remembered"))
    _say_known(known, args)
    in_use = {settings.port for settings in known}
    for port in ports:
        if port.path not in in_use:
            _say_stranger(port, args.speech, opens=args.open, ask=args.ask)
    return ExitStatus.OK


def _in_the_air() -> tuple[Port, ...]:
    try:
        return radio_ports()
    except OSError as error:
        raise NotAvailableError(words_for(error)) from error


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
            speaks = said("speaks: {what}", what=settings.speaks)
            told = (indented(line, "  ") for line in (speaks, *heard[name].lines()))
            print(args.speech.say(lines(Name(f"{name}: {settings.port}"), *told)))
    if args.record is not None:
        print(args.speech.say(said("captures saved in {folder}", folder=Name(str(args.record)))))


def _say_stranger(port: Port, speech: Speech, *, opens: bool, ask: bool) -> None:
    where = {"port": Name(port.description), "path": Name(port.path)}
    print(speech.say(said("{port} on {path}: not set up as an instrument", **where)))
    if port.by_socket:
        own = said("has no serial number of its own: known by the socket it is in")
        print(speech.say(indented(own, "  ")))
    if port.built_in and not ask:
        print(speech.say(indented(said("a port of this computer itself: not listened to without --ask"), "  ")))
        return
    if not (opens or ask or port.is_keyboard):
        print(speech.say(indented(said("not opened: with --open it is listened to"), "  ")))
        return
    if ask or not port.is_keyboard:  # of which none is opened unasked
        print(speech.say(indented(LISTENING, "  ")), flush=True)
    found = recognise(port.path, ask=ask)
    print(speech.say(indented(found.text, "  ")))
    for candidate in found.candidates:
        print(speech.say(indented(_recognised(candidate), "  ")))


def _recognised(candidate: Candidate) -> Said:
    return said(
        "{format}, {line}: {shown} ({indications} indications, {faults} refused)",
        format=Name(candidate.format_name),
        line=Name(str(candidate.framing)),
        shown=_as_shown(candidate.last),
        indications=candidate.indications,
        faults=candidate.faults,
    )


def _forget(store: SettingsStore, port: str, speech: Speech) -> int:
    settings = store.for_port(port)
    if settings is None:
        raise BadInputError(said("port {port}: no instrument is remembered there", port=Name(port)))
    store.forget(port)
    print(speech.say(said("{name} on {port} is forgotten", name=Name(settings.name), port=Name(port))))
    return ExitStatus.OK


def _replay(file: Path, speech: Speech) -> int:
    capture = read_capture(file)
    settings = capture.settings
    replay: dict[str, Part] = {"file": Name(str(file)), "name": Name(settings.name), "speaks": settings.speaks}
    print(speech.say(said("REPLAY of {file}: {name}, {speaks}", **replay)))
    for line in _event_lines(played(capture)):
        print(speech.say(line))
    return ExitStatus.OK


def _event_lines(events: Iterable[IndicationArrived | FaultSeen]) -> Iterator[Part]:
    for event in events:
        begin = (Column(Number(event.arrived_s, 3, "s"), 12, right=True), Name(f"  {event.instrument}  "))
        yield Series((*begin, _event_words(event)), joint="")


def _event_words(event: IndicationArrived | FaultSeen) -> Part:
    if isinstance(event, FaultSeen):
        fault = event.fault
        return said(
            "refused ({reason}): {why} {bytes}", reason=Name(fault.reason), why=fault.text, bytes=Name(repr(fault.raw))
        )
    shown = _as_shown(event.indication)
    return said("{shown}  (meant as a reading)", shown=shown) if event.indication.requested else shown

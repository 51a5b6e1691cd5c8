"""The cable desk: which instruments are on the bench, and what strange ports were heard to speak.

Input: commands and cable reports. Output: the snapshot's ports and instruments, orders to the cables, and the settings
by which live values are followed.
"""

from collections import defaultdict, deque

from msgspec.structs import replace

from core.metrology import Quantity, Unit
from core.records import instrument_shown
from core.said import NOTHING, Name, Number, Part, Series, said, said_counted
from firmware_bridge import (
    LISTENING,
    FaultSeen,
    IndicationArrived,
    InstrumentSettings,
    LinkChanged,
    LinkState,
    Sends,
    offered_settings,
)
from ui.bench.routing import Desk
from ui.bench.steps import NAME, noted, told, with_instrument
from ui.bench.supervision import WorkerFaulted
from ui.bench.workers.cables import (
    CablePort,
    CablesRefused,
    InstrumentJoined,
    InstrumentLeft,
    PortGone,
    PortHeard,
    RadioSearched,
)
from ui.state import Command, InstrumentStatus, Snapshot, StrangePort, Undoable, UsedCable

# The rate shown is that of the last so many indications.
RATE_OVER = 20
LOOKING = said("Listening for instruments on radio: switch them on and move them.")
_UNIT_WORDS = {Unit.MM: said("mm"), Unit.INCH: said("inch"), Unit.DEG: said("deg")}


class UseInstrument(Command, frozen=True, kw_only=True):
    """Use the instrument on a port under these settings, and remember it; `by_hand` where a person overruled what was
    recognised there."""

    settings: InstrumentSettings
    by_hand: bool = False


class ForgetInstrument(Command, frozen=True, kw_only=True):
    """Do not use what is on this port any more."""

    port: str


class ListenPort(Command, frozen=True, kw_only=True):
    """Open a port that nobody uses and listen to it; a board that resets when it is opened resets now."""

    path: str


class AskPort(Command, frozen=True, kw_only=True):
    """Ask what is on a silent port; sends bytes to it, which something other than an instrument may act on."""

    path: str


class LookForRadio(Command, frozen=True, kw_only=True):
    """Listen for instruments in the air, for some seconds; nothing looks for them before."""


class TryInstrument(Command, frozen=True, kw_only=True):
    """Say how an instrument does; nothing is taken."""

    instrument: str


class CableDesk(Desk):
    """Keeps the settings in use."""

    def __init__(self, cables: CablePort) -> None:
        self._cables = cables
        self._settings: dict[str, InstrumentSettings] = {}
        self._times_s: defaultdict[str, deque[float]] = defaultdict(lambda: deque(maxlen=RATE_OVER))
        self._units: dict[str, Unit] = {}

        self.takes = {
            UseInstrument: self._use,
            ForgetInstrument: self._forget,
            AskPort: self._ask,
            LookForRadio: self._look_for_radio,
            RadioSearched: _searched,
            TryInstrument: _tried,
            InstrumentJoined: self._join,
            InstrumentLeft: self._left,
            PortHeard: self._heard,
            PortGone: _without_port,
            ListenPort: self._listen,
            WorkerFaulted: lambda draft, faulted: told(draft, faulted.text, alarm=True),
            CablesRefused: lambda draft, refused: told(draft, refused.text, alarm=True),
            FaultSeen: lambda draft, seen: with_instrument(
                draft, seen.instrument, faults=seen.count, last_fault=seen.fault.text
            ),
            LinkChanged: _with_link,
        }

    def _use(self, draft: Snapshot, wish: UseInstrument) -> Snapshot:
        self._cables.use(wish.settings, by_hand=wish.by_hand)
        taken_back = draft.undo is not None and draft.undo.command == wish
        return replace(draft, undo=None) if taken_back else draft

    def _forget(self, draft: Snapshot, wish: ForgetInstrument) -> Snapshot:
        self._cables.forget(wish.port)
        used = next((cable for cable in draft.cables if cable.settings.port == wish.port), None)
        if used is None:
            return draft
        by_hand = used.recognised is None
        return replace(draft, undo=Undoable(command=UseInstrument(settings=used.settings, by_hand=by_hand)))

    def _listen(self, draft: Snapshot, wish: ListenPort) -> Snapshot:
        self._cables.listen(wish.path)
        return draft

    def _ask(self, draft: Snapshot, wish: AskPort) -> Snapshot:
        self._cables.ask(wish.path)
        return draft

    def _look_for_radio(self, draft: Snapshot, wish: LookForRadio) -> Snapshot:
        self._cables.look_for_radio()
        return told(draft, LOOKING)

    def indicated(self, draft: Snapshot, event: IndicationArrived) -> Snapshot:
        """Count an indication: what was said last, and how often; say it when the instrument's unit was switched."""
        if event.instrument not in map(NAME, draft.instruments):
            # What types into the window has no cable to come up: it is there as soon as it is heard.
            draft = with_instrument(draft, event.instrument, state=LinkState.UP, text=said("open"))
        times_s = self._times_s[event.instrument]
        times_s.append(event.arrived_s)
        span_s = times_s[-1] - times_s[0]
        shown = event.indication
        before, self._units[event.instrument] = self._units.get(event.instrument), shown.unit
        if before not in (None, shown.unit):
            text = said(
                "{instrument} was switched to {unit}: what it says is converted.",
                instrument=instrument_shown(event.instrument),
                unit=_UNIT_WORDS[shown.unit],
            )
            draft = told(draft, text, alarm=True)
        return with_instrument(
            draft,
            event.instrument,
            indications=1,
            last=Series((Number(shown.shown, shown.decimals), _UNIT_WORDS[shown.unit])),
            rate_hz=round((len(times_s) - 1) / span_s, 1) if span_s > 0.0 else None,
            quantity=shown.quantity,
        )

    def ask_for(self, draft: Snapshot, quantity: Quantity) -> str:
        """Ask a connected instrument of this quantity that can be asked; its name, empty when there is none.

        A slow one is silent between its answers: a pedal then means its next one.
        """
        connected = {status.name for status in draft.instruments if status.state is LinkState.UP}
        for settings in self._settings.values():
            if settings.quantity is quantity and settings.sends is Sends.ASKED and settings.name in connected:
                self._cables.request(settings.name)
                return settings.name
        return ""

    def settings_of(self, name: str) -> InstrumentSettings | None:
        """How the instrument of this name is connected; None where no cable of it is known."""
        return next((settings for settings in self._settings.values() if name in settings.instruments), None)

    def _join(self, draft: Snapshot, joined: InstrumentJoined) -> Snapshot:
        """What was counted under other settings says nothing of these."""
        settings = joined.settings
        cable = UsedCable(settings=settings, recognised=joined.recognised)
        before = self._settings.get(settings.port)
        gone = set(before.instruments) - set(settings.instruments) if before else set()
        self._settings[settings.port] = settings
        draft = replace(
            draft,
            instruments=tuple(_unheard(one, settings) for one in draft.instruments if one.name not in gone),
            ports=tuple(port for port in draft.ports if port.path != settings.port),
            cables=(*_others(draft, settings.port), cable),
        )
        for name in settings.instruments:
            self._forget_heard(name)
            draft = with_instrument(draft, name, port=settings.port, quantity=settings.quantity)
        return draft

    def _left(self, draft: Snapshot, report: InstrumentLeft) -> Snapshot:
        settings = self._settings.pop(report.port, None)
        names = settings.instruments if settings else ()
        for name in names:
            self._forget_heard(name)
        left = tuple(one for one in draft.instruments if one.name not in names)
        draft = replace(draft, instruments=left, cables=_others(draft, report.port))
        # What was said of it last, such as that it is lost, holds no more.
        return told(draft, said("{instrument} is forgotten.", instrument=Name(settings.name))) if settings else draft

    def _forget_heard(self, name: str) -> None:
        self._times_s.pop(name, None)
        self._units.pop(name, None)

    def _heard(self, draft: Snapshot, heard: PortHeard) -> Snapshot:
        names = [name for settings in self._settings.values() for name in (settings.name, *settings.instruments)]
        recognition = heard.recognition
        offers = () if recognition is None else recognition.candidates
        port = StrangePort(
            path=heard.port.path,
            description=heard.port.description,
            text=LISTENING if recognition is None else recognition.text,
            listening=recognition is None,
            opened=heard.opened,
            offers=tuple(
                offered_settings(candidate, heard.port.path, names, recognition.radio if recognition else None)
                for candidate in offers
            ),
            radio=recognition.radio if recognition else None,
        )
        others = tuple(other for other in draft.ports if other.path != port.path)
        draft = replace(draft, ports=(*others, port))
        if recognition is None or heard.port.built_in or heard.port.is_keyboard:
            return draft
        return noted(draft, _news_of(port))


def _others(draft: Snapshot, port: str) -> tuple[UsedCable, ...]:
    return tuple(cable for cable in draft.cables if cable.settings.port != port)


def _unheard(status: InstrumentStatus, settings: InstrumentSettings) -> InstrumentStatus:
    """The status before anything came in under new settings of its cable; another cable's as it is."""
    if status.name not in settings.instruments:
        return status
    return replace(status, indications=0, faults=0, last_fault=NOTHING, last=NOTHING, rate_hz=None)


def _news_of(port: StrangePort) -> Part:
    """What is said of a port that nobody uses when it comes."""
    return said("{port}: {words}.", port=Name(port.description), words=port.text)


def _without_port(draft: Snapshot, gone: PortGone) -> Snapshot:
    """It is not offered any more, and where its coming was said last, its going is; other news stay."""
    went = next((port for port in draft.ports if port.path == gone.path), None)
    draft = replace(draft, ports=tuple(port for port in draft.ports if port is not went))
    if went is None or draft.message is None or draft.message.text != _news_of(went):
        return draft
    return told(draft, said("{port} was pulled out.", port=Name(went.description)))


def _searched(draft: Snapshot, searched: RadioSearched) -> Snapshot:
    if not searched.found:
        return told(draft, said("Nothing was heard on radio. Is it switched on, and awake?"), alarm=True)
    return told(
        draft,
        said_counted(
            "{count} was heard on radio. Touch Listen at the instrument.",
            "{count} were heard on radio. Touch Listen at the instrument.",
            count=searched.found,
        ),
    )


def _with_link(draft: Snapshot, changed: LinkChanged) -> Snapshot:
    before = next((one.text for one in draft.instruments if one.name == changed.instrument), NOTHING)
    draft = with_instrument(draft, changed.instrument, state=changed.state, text=changed.text)
    text = _news_of_link(changed.instrument, changed.text)
    if changed.state is LinkState.LOST:
        return told(draft, text, alarm=True)
    return noted(draft, text, ends=_news_of_link(changed.instrument, before))


def _news_of_link(instrument: str, words: Part) -> Part:
    return said("{instrument}: {words}", instrument=instrument_shown(instrument), words=words)


def _tried(draft: Snapshot, wish: TryInstrument) -> Snapshot:
    """One touch: how the instrument does, in a sentence."""
    status = next((one for one in draft.instruments if one.name == wish.instrument), None)
    name = instrument_shown(wish.instrument)
    if status is None:
        return told(draft, said("{instrument} is not in use.", instrument=name), alarm=True)
    if status.state is LinkState.LOST:
        return told(draft, said("{instrument}: {words}.", instrument=name, words=status.text), alarm=True)
    if not status.last:
        silent = said("{instrument} is connected and has said nothing yet: press its data button.", instrument=name)
        return told(draft, silent, alarm=True)
    if not status.faults:
        text = said("{instrument} says {value}. Move it: the number must follow.", instrument=name, value=status.last)
        return told(draft, text)
    text = said_counted(
        "{instrument} says {value}, {count} line refused. Move it: the number must follow.",
        "{instrument} says {value}, {count} lines refused. Move it: the number must follow.",
        count=status.faults,
        instrument=name,
        value=status.last,
    )
    return told(draft, text)

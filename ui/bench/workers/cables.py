"""The cables of the bench: opens the links of instruments it knows, notices what is plugged in, listens to strangers.

Input: the remembered settings and the computer's ports. Output: link events and cable reports, posted into the bench's
queue. One thread of its own for looking and listening, which may take seconds; every link has its own besides.
"""

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue
from typing import Protocol

from core.errors import BadInputError, StoppedError, reason_of
from core.progress import Told, nobody
from core.said import NOTHING, Name, Part, said
from firmware_bridge import (
    RADIO,
    InstrumentLink,
    InstrumentSettings,
    LinkEvent,
    PlugWatch,
    Port,
    Recognition,
    SettingsStore,
    radio_ports,
    words_for,
)
from ui.bench.supervision import Pulse, WorkerFaulted, guarded
from ui.bench.workers.work import under_way
from ui.state import Report

LOOK_EVERY_S = 0.5
# The kernel raises DTR and RTS when a port is opened, and many a machine's controller resets on DTR.
NOT_OPENED = said("new, and not opened: touch Listen if an instrument is on it")
BUILT_IN = said("a port of this computer itself, not listened to unless asked")


class InstrumentJoined(Report, frozen=True, kw_only=True):
    """An instrument is in use from now on, under these settings; `recognised` are those it was first recognised by,
    None where a person set it up."""

    settings: InstrumentSettings
    recognised: InstrumentSettings | None = None


class InstrumentLeft(Report, frozen=True, kw_only=True):
    """The instrument on this port is not used any more."""

    port: str


class PortHeard(Report, frozen=True, kw_only=True):
    """A port without a known instrument: what it was heard to speak; `recognition` None while listening goes on,
    `opened` False while nobody has touched it."""

    port: Port
    recognition: Recognition | None
    opened: bool = True


class PortGone(Report, frozen=True, kw_only=True):
    """A port was unplugged."""

    path: str


class RadioSearched(Report, frozen=True, kw_only=True):
    """The air has been listened to: so many said that they were there."""

    found: int


class CablesRefused(Report, frozen=True, kw_only=True):
    """Something about the cables could not be done; `text` says what and why."""

    text: Part


CablePost = Callable[[LinkEvent | Report], None]


class Recognise(Protocol):
    """Listens to a port; with `ask`, sends it the requests of known formats."""

    def __call__(self, path: str, *, ask: bool = False, told: Told = nobody) -> Recognition:
        """Say what was heard on this port, and meanwhile how far it is."""
        ...


class CablePort:
    """The cables as the bench's desk sees them; by itself none: a bench simulated, or judged from typed readings."""

    def use(self, settings: InstrumentSettings, *, by_hand: bool = False) -> None:
        """Remember an instrument and open its link; `by_hand` where a person overruled what was recognised."""

    def forget(self, port: str) -> None:
        """Close the link of a port and forget what was on it."""

    def listen(self, path: str) -> None:
        """Open a port and listen to it."""

    def ask(self, path: str) -> None:
        """Ask what is on a port, which sends bytes to it."""

    def look_for_radio(self) -> None:
        """Listen for instruments in the air."""

    def request(self, instrument: str) -> None:
        """Ask a known instrument for its indication."""


class Cables(CablePort):
    """Owns the links. `make_link` builds one from settings, `recognise` listens, `watch` lists what is plugged in, and
    `radio` what is in the air: that is called when a person asks, and at no other time."""

    def __init__(
        self,
        store: SettingsStore,
        *,
        make_link: Callable[[InstrumentSettings], InstrumentLink],
        recognise: Recognise,
        watch: PlugWatch,
        radio: Callable[[Told], Sequence[Port]] = radio_ports,
        look_every_s: float = LOOK_EVERY_S,
    ) -> None:
        self._store = store
        self._make_link = make_link
        self._recognise = recognise
        self._watch = watch
        self._radio = radio
        self._look_every_s = look_every_s
        self._links: dict[str, InstrumentLink] = {}
        self._ports: dict[str, Port] = {}
        self._todo: SimpleQueue[Callable[[], None] | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._post: CablePost = lambda event: None
        self._said: Part = NOTHING
        self.pulse = Pulse()

    def start(self, post: CablePost) -> None:
        """Open the links of all instruments known; a moment later, when the first screen is up, look for others."""
        self._post = post
        self._thread = threading.Thread(target=self._run, name="cables")
        self._thread.start()

    def use(self, settings: InstrumentSettings, *, by_hand: bool = False) -> None:
        """Remember an instrument and open its link, in place of the one on its port; `by_hand` where a person overruled
        what was recognised."""
        self._todo.put(lambda: self._use(settings, by_hand))

    def forget(self, port: str) -> None:
        """Close the link of a port and forget what was on it."""
        self._todo.put(lambda: self._forget(port))

    def listen(self, path: str) -> None:
        """Open a port and listen to it: only when the person touched it, for opening alone may reset what is on it."""
        self._todo.put(lambda: self._listen(path, ask=False))

    def ask(self, path: str) -> None:
        """Ask what is on a port, which sends bytes to it: only when the person agreed."""
        self._todo.put(lambda: self._listen(path, ask=True))

    def look_for_radio(self) -> None:
        """Listen for instruments in the air: only when the person asked."""
        self._todo.put(self._look_for_radio)

    def request(self, instrument: str) -> None:
        """Ask a known instrument for its indication."""
        for link in tuple(self._links.values()):
            if link.instrument == instrument:
                link.request()

    def close(self) -> None:
        """Close every link and end the thread."""
        self._todo.put(None)
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            self._guarded(self._open_known)
            while True:
                self.pulse.beat()
                with suppress(Empty):
                    task = self._todo.get(timeout=self._look_every_s)
                    if task is None:
                        return
                    self._guarded(task)
                self._guarded(self._look)
        finally:
            for link in self._links.values():
                guarded("cables", link.close, lambda text: None)

    def _guarded(self, step: Callable[[], None]) -> None:
        self.pulse.beat(busy=True)
        guarded("cables", step, self._say_once)

    def _say_once(self, text: Part) -> None:
        """What fails at every look is said once."""
        if text != self._said:
            self._said = text
            self._post(WorkerFaulted(text=text))

    def _open_known(self) -> None:
        try:
            known = self._store.load()
        except BadInputError as error:
            self._post(CablesRefused(text=error.what))
            return
        for settings in known:
            self._join(settings)

    def _look(self) -> None:
        came, went = self._watch.changes()
        for port in went:
            self._ports.pop(port.path, None)
            self._post(PortGone(path=port.path))
        for port in came:
            self._ports[port.path] = port
            self._show_unused(port)

    def _show_unused(self, port: Port) -> None:
        if port.path in self._links:
            return
        if port.built_in:
            silent = Recognition(port=port.path, candidates=(), text=BUILT_IN)
            self._post(PortHeard(port=port, recognition=silent))
        elif port.is_keyboard:
            self._listen(port.path, ask=False)  # which opens none
        else:
            unheard = Recognition(port=port.path, candidates=(), text=NOT_OPENED)
            self._post(PortHeard(port=port, recognition=unheard, opened=False))

    def _listen(self, path: str, *, ask: bool) -> None:
        port = self._ports.get(path)
        if port is None or path in self._links:
            return
        self._post(PortHeard(port=port, recognition=None))
        listening = said("listening to {port}", port=Name(port.description))
        try:
            with under_way(self._post, listening) as work:
                recognition = self._recognise(path, ask=ask, told=work.told)
        except StoppedError:
            self._show_unused(port)
        else:
            self._post(PortHeard(port=port, recognition=recognition))

    def _look_for_radio(self) -> None:
        """What was found before and is not there any more goes, unless it is in use."""
        try:
            with under_way(self._post, said("listening for instruments on radio")) as work:
                found = {port.path: port for port in self._radio(work.told)}
        except StoppedError as stopped:
            self._post(CablesRefused(text=stopped.what))
            return
        except OSError as error:
            self._post(CablesRefused(text=words_for(error)))
            return
        for path in [path for path in self._ports if path.startswith(RADIO) and path not in found]:
            del self._ports[path]
            self._post(PortGone(path=path))
        self._ports |= found
        for port in found.values():
            self._show_unused(port)
        self._post(RadioSearched(found=len(found)))

    def _use(self, settings: InstrumentSettings, by_hand: bool) -> None:
        try:
            self._store.remember(settings, recognised=not by_hand)
        except (BadInputError, OSError) as error:
            self._post(
                CablesRefused(
                    text=said("{name} is not remembered: {reason}", name=Name(settings.name), reason=reason_of(error))
                )
            )
            return
        self._join(settings)

    def _forget(self, port: str) -> None:
        try:
            self._store.forget(port)
        except (BadInputError, OSError) as error:
            self._post(
                CablesRefused(text=said("{name} is not forgotten: {reason}", name=Name(port), reason=reason_of(error)))
            )
            return
        if (link := self._links.pop(port, None)) is not None:
            link.close()
            self._post(InstrumentLeft(port=port))
        if port in self._ports:
            # Still plugged in: it can be recognised anew.
            self._show_unused(self._ports[port])

    def _join(self, settings: InstrumentSettings) -> None:
        """Close before opening: with the old descriptor open, a port cannot be opened exclusively."""
        if (old := self._links.pop(settings.port, None)) is not None:
            old.close()
        link = self._make_link(settings)
        self._links[settings.port] = link
        self._post(InstrumentJoined(settings=settings, recognised=self._store.recognised_on(settings.port)))
        link.start(self._post)

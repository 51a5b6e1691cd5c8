"""The cable desk: which instruments are on the bench, and what strange ports were heard to speak.

Input: commands and cable reports. Output: the snapshot's ports and instruments, orders to the cables, and the settings
by which live values are followed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.recognition import offered_settings
from ui.bench_steps import told, with_instrument
from ui.cables import CableReport, CablesRefused, InstrumentJoined, InstrumentLeft, PortGone, PortHeard
from ui.commands import AskPort, Command, ForgetInstrument, UseInstrument
from ui.snapshot import PortView, Snapshot


class CablePort(Protocol):
    """The cables as the desk sees them."""

    def use(self, settings: InstrumentSettings) -> None:
        """Remember an instrument and open its link."""
        ...

    def forget(self, port: str) -> None:
        """Close the link of a port and forget what was on it."""
        ...

    def ask(self, path: str) -> None:
        """Ask what is on a port, which sends bytes to it."""
        ...

    def request(self, instrument: str) -> None:
        """Ask a known instrument for its indication."""
        ...


class NoCables:
    """A bench without cables of its own: simulated, or judged from typed readings."""

    def use(self, settings: InstrumentSettings) -> None:
        """Nothing to open."""

    def forget(self, port: str) -> None:
        """Nothing to forget."""

    def ask(self, path: str) -> None:
        """Nothing to ask."""

    def request(self, instrument: str) -> None:
        """Nothing to ask."""


class CableDesk:
    """Keeps the settings in use; `joined` is told of every instrument, so that its live value is followed."""

    def __init__(self, cables: CablePort, joined: Callable[[InstrumentSettings], None]) -> None:
        self._cables = cables
        self._joined = joined
        self._settings: dict[str, InstrumentSettings] = {}

    def handle(self, draft: Snapshot, event: Command | CableReport) -> Snapshot:
        """Take what concerns cables; anything else leaves the snapshot as it is."""
        match event:
            case UseInstrument(settings=settings):
                self._cables.use(settings)
            case ForgetInstrument(port=port):
                self._cables.forget(port)
            case AskPort(path=path):
                self._cables.ask(path)
            case InstrumentJoined(settings=settings):
                return self._join(draft, settings)
            case InstrumentLeft(port=port):
                return self._left(draft, port)
            case PortHeard():
                return self._heard(draft, event)
            case PortGone(path=path):
                return replace(draft, ports=tuple(port for port in draft.ports if port.path != path))
            case CablesRefused(text=text):
                return told(draft, text, alarm=True)
        return draft

    def request(self, instrument: str) -> None:
        """Ask a known instrument for its indication."""
        self._cables.request(instrument)

    def _join(self, draft: Snapshot, settings: InstrumentSettings) -> Snapshot:
        self._settings[settings.port] = settings
        self._joined(settings)
        for name in settings.instruments:
            draft = with_instrument(draft, name)
        return replace(draft, ports=tuple(port for port in draft.ports if port.path != settings.port))

    def _left(self, draft: Snapshot, port: str) -> Snapshot:
        settings = self._settings.pop(port, None)
        names = settings.instruments if settings else ()
        return replace(draft, instruments=tuple(one for one in draft.instruments if one.name not in names))

    def _heard(self, draft: Snapshot, heard: PortHeard) -> Snapshot:
        names = [name for settings in self._settings.values() for name in (settings.name, *settings.instruments)]
        recognition = heard.recognition
        offers = () if recognition is None else recognition.candidates
        port = PortView(
            path=heard.port.path,
            description=heard.port.description,
            text="listening ..." if recognition is None else recognition.text,
            listening=recognition is None,
            offers=tuple(offered_settings(candidate, heard.port.path, names) for candidate in offers),
        )
        others = tuple(other for other in draft.ports if other.path != port.path)
        draft = replace(draft, ports=(*others, port))
        if recognition is None or heard.port.built_in:
            return draft
        return told(draft, f"{port.description}: {port.text}.")

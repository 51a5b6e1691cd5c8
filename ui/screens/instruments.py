"""Instruments: what is plugged in, what it says, and what of it could not be understood."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from firmware_bridge.byte_link import LinkState
from ui.commands import AskPort, Command, UseInstrument
from ui.screens.screen import BenchScreen
from ui.snapshot import InstrumentStatus, PortView, Snapshot
from ui.widgets.basics import Sheetlet
from ui.widgets.choice_row import ChoiceRow  # noqa: F401 - named in the kv file

ASK = "ask"
OFFERS_SHOWN = 3
NONE_FOUND = (
    "No instrument is connected. Plug the cable in: it is looked for by itself. Until then every reading can be typed."
)
SOME_FOUND = "A cable that is pulled comes back by itself. Bytes that are no reading are counted and never used."


class InstrumentRow(Sheetlet):
    """One instrument."""

    name = StringProperty("")
    state_text = StringProperty("")
    counts = StringProperty("")
    up = BooleanProperty(True)

    def show(self, status: InstrumentStatus) -> None:
        """Say how it is."""
        self.up = status.state is LinkState.UP
        self.name = status.name
        self.state_text = "connected" if self.up else "LOST"
        faults = f"{status.faults} not understood"
        last = f", the last one: {status.last_fault}" if status.last_fault else ""
        self.counts = f"{status.text}: {status.indications} indications, {faults}{last}"


class PortRow(Sheetlet):
    """A port with no instrument in use on it, and what it could be used as."""

    description = StringProperty("")
    text = StringProperty("")
    offered = BooleanProperty(False)

    def __init__(self, port: PortView, send: Callable[[Command], None], **kwargs: object) -> None:
        super().__init__(**kwargs)
        self.port, self._send = port, send
        self.description, self.text = port.description or port.path, port.text
        choices = [(str(i), f"Use as {offer.name}") for i, offer in enumerate(port.offers[:OFFERS_SHOWN])]
        if not port.offers and not port.listening:
            choices.append((ASK, "Ask what it is"))
        self.offered = bool(choices)
        self.ids.offers.choices = choices

    def choose(self, name: str) -> None:
        """Use the instrument, or ask the port."""
        if name == ASK:
            self._send(AskPort(path=self.port.path))
        else:
            self._send(UseInstrument(settings=self.port.offers[int(name)]))


class InstrumentsScreen(BenchScreen):
    """Keeps one row for each instrument."""

    heading = "Instruments"
    parent_screen = "home"
    summary = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._rows: dict[str, InstrumentRow] = {}
        self._ports: dict[str, PortRow] = {}

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self.summary = SOME_FOUND if snapshot.instruments else NONE_FOUND
        named = {status.name: status for status in snapshot.instruments}
        for name in [*self._rows]:
            if name not in named:
                self.ids.rows.remove_widget(self._rows.pop(name))
        for name, status in named.items():
            if name not in self._rows:
                self._rows[name] = InstrumentRow()
                self.ids.rows.add_widget(self._rows[name])
            self._rows[name].show(status)
        heard = {port.path: port for port in snapshot.ports}
        for path in [*self._ports]:
            if heard.get(path) != self._ports[path].port:
                self.ids.rows.remove_widget(self._ports.pop(path))
        for path, port in heard.items():
            if path not in self._ports:
                self._ports[path] = PortRow(port, self.send)
                # What needs the person stands on top.
                self.ids.rows.add_widget(self._ports[path], index=len(self.ids.rows.children))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

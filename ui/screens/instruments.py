"""Instruments: what is plugged in, what it says, and what of it could not be understood."""

from __future__ import annotations

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from firmware_bridge.byte_link import LinkState
from ui.screens.screen import BenchScreen
from ui.snapshot import InstrumentStatus, Snapshot
from ui.widgets.basics import Sheetlet

NONE_FOUND = (
    "No instrument is connected. Plug the cable in: it is looked for by itself. Until then every reading can be typed."
)
SOME_FOUND = "A cable that is pulled comes back by itself. Bytes that are no reading are counted and never used."


class InstrumentRow(Sheetlet):
    """One instrument."""

    name = StringProperty("")
    state_text = StringProperty("")
    text = StringProperty("")
    counts = StringProperty("")
    up = BooleanProperty(True)

    def show(self, status: InstrumentStatus) -> None:
        """Say how it is."""
        self.up = status.state is LinkState.UP
        self.name, self.text = status.name, status.text
        self.state_text = "connected" if self.up else "LOST"
        faults = f"{status.faults} not understood"
        last = f", the last one: {status.last_fault}" if status.last_fault else ""
        self.counts = f"{status.indications} indications, {faults}{last}"


class InstrumentsScreen(BenchScreen):
    """Keeps one row for each instrument."""

    heading = "Instruments"
    parent_screen = "home"
    summary = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._rows: dict[str, InstrumentRow] = {}

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


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

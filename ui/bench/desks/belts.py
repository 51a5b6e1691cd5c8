"""The belt desk: belts listened to, compared, and what came of it in the machine's log.

Input: commands, and notes heard by the listener. Output: the next snapshot's `BeltsSlice`, and tasks for the archive.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from core.machine.belt_note import BeltNote
from core.machine.belts import compare_belts
from core.machine.machine_log import BeltsCompared
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import log_on_machine
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.outbox import Outbox
from ui.state.commands import BeltHeard, Command, ListenToBelt, LogBelts
from ui.state.snapshot import BeltsSlice, Snapshot


@dataclass(slots=True)
class BeltDesk:
    """Keeps nothing: what was heard is in the snapshot. `listen` begins to record the first (True) or second belt."""

    outbox: Outbox
    listen: Callable[[bool], None]

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns belts; anything else leaves the snapshot as it is."""
        match event:
            case ListenToBelt(first=first) if not draft.belts.listening:
                self.listen(first)
                text = "Listening: pluck it two or three times."
                return replace(draft, belts=replace(draft.belts, listening=True, text=text))
            case BeltHeard():
                return self._heard(draft, event)
            case LogBelts(first_hz=first_hz, second_hz=second_hz, text=text):
                return self._log(draft, first_hz, second_hz, text)
        return draft

    def _heard(self, draft: Snapshot, heard: BeltHeard) -> Snapshot:
        """A belt was listened to; with both notes there they are compared, and the comparison is logged."""
        belts = _with_note(draft.belts, heard.first, heard.note)
        belts = replace(belts, listening=False, text=heard.text)
        if heard.note is None or belts.first is None or belts.second is None:
            return replace(draft, belts=belts)
        text = compare_belts(belts.first, belts.second).text
        draft = replace(draft, belts=replace(belts, text=text))
        return self._log(draft, belts.first.frequency_hz.value, belts.second.frequency_hz.value, text)

    def _log(self, draft: Snapshot, first_hz: float, second_hz: float, text: str) -> Snapshot:
        """Belts can be compared without a machine profile; then nothing remembers it."""
        machine = draft.machines.current
        if machine is not None:
            payload = BeltsCompared(first_hz=first_hz, second_hz=second_hz)
            self.outbox.submit(log_on_machine(machine.name, payload))
        return told(draft, text)


def _with_note(belts: BeltsSlice, first: bool, note: BeltNote | None) -> BeltsSlice:
    if note is None:
        return belts
    return replace(belts, first=note) if first else replace(belts, second=note)

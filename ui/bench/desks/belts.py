"""The belt desk: belts listened to, compared, and what came of it in the machine's log.

Input: commands, and notes heard by the listener. Output: the next snapshot's `BeltsSlice`, and tasks for the archive.
"""

from collections.abc import Callable

from msgspec.structs import replace

from core.machine import BeltNote, BeltsCompared, compare_belts
from core.said import Part, said
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import log_on_machine
from ui.bench.workers.archive_thread import Outbox
from ui.bench.workers.belt_listener import BeltHeard
from ui.state import BeltsSlice, Command, Snapshot


class LogBelts(Command, frozen=True, kw_only=True):
    """The notes of both belts were compared, and `text` says what came of it; the first is the left or near one."""

    first_hz: float
    second_hz: float
    text: Part


class ListenToBelt(Command, frozen=True, kw_only=True):
    """Record a belt that is about to be plucked; the first is the left or near one."""

    first: bool


class BeltDesk(Desk):
    """Keeps nothing: what was heard is in the snapshot. `listen` begins to record the first (True) or second belt."""

    def __init__(self, outbox: Outbox, listen: Callable[[bool], None]) -> None:
        self._outbox = outbox
        self._listen_to = listen
        self.takes = {ListenToBelt: self._listen, BeltHeard: self._heard, LogBelts: self._log}

    def _listen(self, draft: Snapshot, wish: ListenToBelt) -> Snapshot:
        if draft.belts.listening:
            return draft
        self._listen_to(wish.first)
        text = said("Listening: pluck it two or three times.")
        return replace(draft, belts=replace(draft.belts, listening=True, text=text))

    def _heard(self, draft: Snapshot, heard: BeltHeard) -> Snapshot:
        """A belt was listened to; with both notes there they are compared, and the comparison is logged."""
        belts = _with_note(draft.belts, heard.first, heard.note)
        belts = replace(belts, listening=False, text=heard.text)
        if heard.note is None or belts.first is None or belts.second is None:
            return replace(draft, belts=belts)
        text = compare_belts(belts.first, belts.second).text
        draft = replace(draft, belts=replace(belts, text=text))
        hz = (belts.first.frequency_hz.value, belts.second.frequency_hz.value)
        return self._log(draft, LogBelts(first_hz=hz[0], second_hz=hz[1], text=text))

    def _log(self, draft: Snapshot, compared: LogBelts) -> Snapshot:
        """Belts can be compared without a machine profile; then nothing remembers it."""
        machine = draft.machines.current
        if machine is not None:
            payload = BeltsCompared(first_hz=compared.first_hz, second_hz=compared.second_hz)
            self._outbox.submit(log_on_machine(machine.name, payload))
        return told(draft, compared.text)


def _with_note(belts: BeltsSlice, first: bool, note: BeltNote | None) -> BeltsSlice:
    if note is None:
        return belts
    return replace(belts, first=note) if first else replace(belts, second=note)

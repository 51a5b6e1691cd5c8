"""The records desk: looks things up in the archive for the person, and holds each closed coupon against the one before.

Input: commands and archive answers. Output: the snapshot's `RecordsSlice`, and tasks for the archive.
"""

from __future__ import annotations

from dataclasses import replace

from core.machine.machine_log import CorrectionApplied, MachineEvent
from core.records.events import Closed
from core.records.history import RecordsSlice
from core.records.session import Session
from ui.bench.workers.archive_tasks import (
    Begun,
    Committed,
    Compared,
    DueLoaded,
    GridLoaded,
    HistoryLoaded,
    LastOpenedLoaded,
    MachineLogged,
    MachinesLoaded,
    RecordLoaded,
    compare,
    load_due,
    load_grid,
    load_history,
    load_last_opened,
    load_record,
)
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.outbox import Outbox
from ui.state.commands import ChooseMachine, Command, LoadGrid, LoadHistory, LookAtSession
from ui.state.snapshot import Snapshot


class RecordsDesk:
    """Keeps nothing: what was looked up is in the snapshot."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns records; anything else leaves the snapshot as it is."""
        records = draft.records
        match event:
            case LoadHistory(machine=machine, only=only):
                self._outbox.submit(load_history(machine, only))
            case LoadGrid(machine=machine, grid=grid):
                self._outbox.submit(load_grid(machine, grid))
            case LookAtSession(session=session):
                self._outbox.submit(load_record(session))
            case HistoryLoaded(history=history):
                records = replace(records, history=history)
            case DueLoaded(due=due):
                records = replace(records, due=due)
            case GridLoaded(grid=state):
                records = replace(records, grid=state)
            case RecordLoaded(record=record):
                records = replace(records, record=record)
            case Begun(events=events):
                opened = Session.from_events(events).opened
                records = RecordsSlice(history=records.history, due=records.due, grid=records.grid, last_opened=opened)
            case LastOpenedLoaded(opened=opened):
                records = replace(records, last_opened=opened)
            case Committed(session=session, event=committed) if isinstance(committed.payload, Closed):
                if draft.evaluation is not None:
                    self._outbox.submit(compare(session))
                self._look_up_due(draft)
            case Compared(comparison=comparison):
                records = replace(records, comparison=comparison)
            case MachineLogged(entry=entry) if isinstance(entry.payload, CorrectionApplied | MachineEvent):
                self._look_up_due(draft)
            case MachinesLoaded() | ChooseMachine():
                self._look_up_due(draft)
                self._outbox.submit(load_last_opened(draft.machines.current.name if draft.machines.current else ""))
        return replace(draft, records=records)

    def _look_up_due(self, draft: Snapshot) -> None:
        """A coupon, a correction or a crash moves the day of the next check."""
        if draft.machines.current is not None:
            self._outbox.submit(load_due(draft.machines.current.name))

"""The records desk: looks things up in the archive for the person, and holds each closed coupon against the one before.

Input: commands and archive answers. Output: the snapshot's `RecordsView`, and tasks for the archive.
"""

from __future__ import annotations

from dataclasses import replace

from core.records.events import Closed
from ui.archive_tasks import Begun, Committed, Compared, HistoryLoaded, RecordLoaded, compare, load_history, load_record
from ui.archive_thread import ArchiveReport
from ui.commands import Command, LoadHistory, LookAtSession
from ui.outbox import Outbox
from ui.records_view import RecordsView
from ui.snapshot import Snapshot


class RecordsDesk:
    """Keeps nothing: what was looked up is in the snapshot."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns records; anything else leaves the snapshot as it is."""
        records = draft.records
        match event:
            case LoadHistory(machine=machine):
                self._outbox.submit(load_history(machine))
            case LookAtSession(session=session):
                self._outbox.submit(load_record(session))
            case HistoryLoaded(history=history):
                records = replace(records, history=history)
            case RecordLoaded(record=record):
                records = replace(records, record=record)
            case Begun():
                records = RecordsView(history=records.history)
            case Committed(session=session, event=committed) if isinstance(committed.payload, Closed):
                if draft.evaluation is not None:
                    self._outbox.submit(compare(session))
            case Compared(comparison=comparison):
                records = replace(records, comparison=comparison)
        return replace(draft, records=records)

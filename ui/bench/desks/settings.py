"""The settings desk: what the person chose, in force at once and kept by the archive's thread.

Input: ChangeSettings. Output: the next snapshot's `settings`, and a task for the archive.
"""

from __future__ import annotations

from dataclasses import replace

from ui.bench.steps import told
from ui.bench.workers.archive_tasks import SettingsKept, keep_settings
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.outbox import Outbox
from ui.state.commands import ChangeSettings, Command
from ui.state.settings import SettingsFile
from ui.state.snapshot import Snapshot


class SettingsDesk:
    """Knows the file the settings are kept in; without one they hold until the bench is left."""

    def __init__(self, outbox: Outbox, file: SettingsFile | None) -> None:
        self._outbox = outbox
        self._file = file

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns settings; anything else leaves the snapshot as it is."""
        match event:
            case ChangeSettings(settings=settings):
                if self._file is not None:
                    self._outbox.submit(keep_settings(self._file, settings))
                return replace(draft, settings=settings)
            case SettingsKept():
                return told(draft, "The settings are kept.")
            case _:
                return draft

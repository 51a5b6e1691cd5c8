"""The way from the desks to the archive, and how many answers the archive owes."""

from __future__ import annotations

from typing import Protocol

from ui.bench.workers.archive_tasks import ArchiveTask


class ArchivePort(Protocol):
    """Where tasks go; every one is answered by exactly one report through the bench's queue."""

    def submit(self, task: ArchiveTask) -> None:
        """Do this with the archive, after everything submitted before."""
        ...


class Outbox:
    """The archive port with a count of what it owes."""

    def __init__(self, archive: ArchivePort) -> None:
        self._archive = archive
        self._owed = 0

    @property
    def waiting(self) -> bool:
        """True while the archive owes an answer."""
        return self._owed > 0

    def submit(self, task: ArchiveTask) -> None:
        """Hand a task to the archive."""
        self._owed += 1
        self._archive.submit(task)

    def answered(self) -> None:
        """One answer has come."""
        self._owed -= 1

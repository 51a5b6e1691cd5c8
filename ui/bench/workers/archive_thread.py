"""The archive thread: does one task at a time and reports back, so that a slow card never holds up the lamp.

Input: tasks from the bench. Output: one report each, posted into the bench's queue, after one that says how it opened.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Protocol

from core.errors import CornerwiseError, StorageError
from core.records.archive import Archive
from ui.bench.workers.archive_tasks import ArchiveTask, NotStored
from ui.state.messages import Answer, Report


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveOpened(Report):
    """The archive is there; `notice` says what was unusual about it, empty when all was well."""

    notice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveRefused(Report):
    """The archive could not be opened: nothing can be stored, and `text` says why."""

    text: str


class ArchiveThread:
    """Owns the archive: it is opened, used and closed in this one thread."""

    def __init__(self, open_archive: Callable[[], Archive]) -> None:
        self._open_archive = open_archive
        self._tasks: SimpleQueue[ArchiveTask | None] = SimpleQueue()
        self._thread: threading.Thread | None = None

    def start(self, post: Callable[[Report], None]) -> None:
        """Begin to work; `post` is called from the archive thread."""
        self._thread = threading.Thread(target=self._run, args=(post,), name="archive")
        self._thread.start()

    def submit(self, task: ArchiveTask) -> None:
        """Do this with the archive, after everything submitted before."""
        self._tasks.put(task)

    def close(self) -> None:
        """Finish what was asked for, close the archive, end the thread."""
        self._tasks.put(None)
        if self._thread is not None:
            self._thread.join()

    def _run(self, post: Callable[[Report], None]) -> None:
        try:
            archive = self._open_archive()
        except StorageError as error:
            self._refuse_everything(post, str(error))
            return
        post(ArchiveOpened(notice=archive.notice))
        try:
            while (task := self._tasks.get()) is not None:
                post(_answer(archive, task))
        finally:
            archive.close()

    def _refuse_everything(self, post: Callable[[Report], None], text: str) -> None:
        """The archive did not open: say so at once, and again for whatever is asked of it."""
        post(ArchiveRefused(text=text))
        while self._tasks.get() is not None:
            post(NotStored(text=text))


def _answer(archive: Archive, task: ArchiveTask) -> Answer:
    try:
        return task(archive)
    except CornerwiseError as error:
        return NotStored(text=str(error))


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

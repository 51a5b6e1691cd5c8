"""The archive thread: commits one event at a time and reports back, so that a slow card never holds up the lamp.

Input: `begin` and `append` from the bench. Output: ArchiveReport values, posted into the bench's queue.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue

from core.errors import CornerwiseError, StorageError
from core.records.archive import Archive
from core.records.events import Event, Opened, Payload


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A session is on the disk with its first event, or was found unfinished with all its events."""

    session: str
    events: tuple[Event, ...]
    resumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Committed:
    """An event of a session is on the disk."""

    session: str
    event: Event


@dataclass(frozen=True, slots=True, kw_only=True)
class CommitFailed:
    """A payload could not be stored and does not count; `text` says why."""

    payload: Payload | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveOpened:
    """The archive is there; `notice` says what was unusual about it, empty when all was well."""

    notice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveRefused:
    """The archive could not be opened: nothing can be stored, and `text` says why."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NothingOpen:
    """There is no session to go on with."""


ArchiveReport = ArchiveOpened | ArchiveRefused | NothingOpen | Begun | Committed | CommitFailed
_Task = tuple[Callable[[Archive], ArchiveReport], Payload | None]


class ArchiveThread:
    """Owns the archive: it is opened, used and closed in this one thread."""

    def __init__(self, open_archive: Callable[[], Archive]) -> None:
        self._open_archive = open_archive
        self._tasks: SimpleQueue[_Task | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="archive")
        self._post: Callable[[ArchiveReport], None] = lambda report: None

    def start(self, post: Callable[[ArchiveReport], None]) -> None:
        """Begin to work; `post` is called from the archive thread."""
        self._post = post
        self._thread.start()

    def begin(self, opened: Opened) -> None:
        """Store a new session's first event; answers Begun or CommitFailed."""

        def task(archive: Archive) -> ArchiveReport:
            session = archive.begin(opened)
            return Begun(session=session, events=archive.events(session))

        self._tasks.put((task, opened))

    def append(self, session: str, payload: Payload) -> None:
        """Store one event; answers Committed or CommitFailed."""
        self._tasks.put((lambda archive: Committed(session=session, event=archive.append(session, payload)), payload))

    def resume(self) -> None:
        """Look for a session that was not closed; answers Begun or NothingOpen."""

        def task(archive: Archive) -> ArchiveReport:
            session = archive.unfinished()
            if session is None:
                return NothingOpen()
            return Begun(session=session, events=archive.events(session), resumed=True)

        self._tasks.put((task, None))

    def close(self) -> None:
        """Finish what was asked for, close the archive, end the thread."""
        self._tasks.put(None)
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        try:
            archive = self._open_archive()
        except StorageError as error:
            self._refuse_everything(str(error))
            return
        self._post(ArchiveOpened(notice=archive.notice))
        try:
            while (item := self._tasks.get()) is not None:
                task, payload = item
                try:
                    report = task(archive)
                except CornerwiseError as error:
                    report = CommitFailed(payload=payload, text=str(error))
                self._post(report)
        finally:
            archive.close()

    def _refuse_everything(self, text: str) -> None:
        """The archive did not open: say so at once, and again for whatever is asked of it."""
        self._post(ArchiveRefused(text=text))
        while (item := self._tasks.get()) is not None:
            self._post(CommitFailed(payload=item[1], text=text))

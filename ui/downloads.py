"""The download thread: watches for sticks, writes a finished folder onto one, says when it may be pulled out.

Input: records of sessions. Output: download reports, posted into the bench's queue. Writing to a stick takes seconds
and may hang on a bad one, so neither bench nor archive waits for it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from queue import Empty, SimpleQueue

from core.errors import CornerwiseError
from core.records.export import files_of
from core.records.session_record import SessionRecord
from hardware.usb_stick import Step, Stick, StickAccess, download_to_stick, the_one_stick
from ui.download_view import DownloadState

LOOK_EVERY_S = 1.0
_STATE_OF = {Step.WRITING: DownloadState.WRITING, Step.CHECKING: DownloadState.CHECKING, Step.SAFE: DownloadState.SAFE}


@dataclass(frozen=True, slots=True, kw_only=True)
class SticksSeen:
    """The sticks that are plugged in now."""

    sticks: tuple[Stick, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DownloadMoved:
    """A download came further, ended, or failed; `text` says it in words."""

    session: str
    state: DownloadState
    text: str


DownloadReport = SticksSeen | DownloadMoved
Post = Callable[[DownloadReport], None]


class Downloads:
    """Owns the stick while it is written to; `find_sticks` lists what is plugged in, `access` mounts it."""

    def __init__(self, *, find_sticks: Callable[[], tuple[Stick, ...]], access: StickAccess) -> None:
        self._find_sticks = find_sticks
        self._access = access
        self._records: SimpleQueue[SessionRecord | None] = SimpleQueue()
        self._seen: tuple[Stick, ...] = ()
        self._thread: threading.Thread | None = None

    def start(self, post: Post) -> None:
        """Begin to watch; `post` is called from the download thread."""
        self._thread = threading.Thread(target=self._run, args=(post,), name="downloads")
        self._thread.start()

    def download(self, record: SessionRecord) -> None:
        """Write this session's folder onto the one stick that is plugged in."""
        self._records.put(record)

    def close(self) -> None:
        """Finish what is being written and end the thread."""
        self._records.put(None)
        if self._thread is not None:
            self._thread.join()

    def _run(self, post: Post) -> None:
        while True:
            self._look(post)
            try:
                record = self._records.get(timeout=LOOK_EVERY_S)
            except Empty:
                continue
            if record is None:
                return
            self._write(record, post)

    def _look(self, post: Post) -> None:
        sticks = self._find_sticks()
        if sticks != self._seen:
            self._seen = sticks
            post(SticksSeen(sticks=sticks))

    def _write(self, record: SessionRecord, post: Post) -> None:
        def progress(step: Step) -> None:
            post(DownloadMoved(session=record.id, state=_STATE_OF[step], text=step.value))

        try:
            stick = the_one_stick(self._find_sticks())
            progress(Step.WRITING)
            download_to_stick(files_of(record), record.id, stick, self._access, progress)
        except CornerwiseError as error:
            post(DownloadMoved(session=record.id, state=DownloadState.FAILED, text=str(error)))

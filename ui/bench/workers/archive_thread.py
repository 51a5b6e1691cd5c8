"""The archive thread: does one task at a time and reports back, so that a slow card never holds up the lamp.

Input: tasks from the bench. Output: one report each, posted into the bench's queue, after one that says how it opened.
"""

import threading
from collections import deque
from collections.abc import Callable
from queue import Empty, SimpleQueue

from msgspec import Struct

from core.errors import CornerwiseError, DamagedArchiveError, LostFileError, StorageError
from core.records import Archive
from core.said import NOTHING, Part, said
from ui.bench.supervision import LOG, Pulse, WorkerFaulted, guarded, unforeseen
from ui.bench.workers.archive_tasks import ArchiveTask, NotStored
from ui.bench.workers.work import WorkMoved
from ui.state import Answer, Report

LOOK_UP_S = 2.0
STORING = said("storing")
LOOKING = said("looking in the records")


class ArchiveOpened(Report, frozen=True, kw_only=True):
    """The archive is there; `notice` says what was unusual about it, empty when all was well."""

    notice: Part


class ArchiveRefused(Report, frozen=True, kw_only=True):
    """The archive could not be opened: nothing can be stored, and `text` says why."""

    text: Part


class ArchiveThread:
    """Owns the archive: it is opened, used and closed in this one thread."""

    def __init__(self, open_archive: Callable[[], Archive]) -> None:
        self._open_archive = open_archive
        self._tasks: SimpleQueue[ArchiveTask | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._refusal: Part = NOTHING
        self.pulse = Pulse()

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
        archive = self._opened(post)
        try:
            while (task := self._next()) is not None:
                answer, broken = _answer(archive, task) if archive else (NotStored(text=self._refusal), None)
                post(answer)
                if archive is not None and self._tasks.empty():
                    archive.settle()
                if archive is not None and broken is not None:
                    archive = self._reopened(archive, broken, post)
        finally:
            if archive is not None:
                guarded("archive", archive.close, lambda text: None)

    def _opened(self, post: Callable[[Report], None]) -> Archive | None:
        """The archive; where it did not open, that is said at once, and again for whatever is asked of it."""
        self.pulse.beat(busy=True)
        try:
            archive = self._open_archive()
        except CornerwiseError as error:
            self._refusal = error.what
        except Exception as error:
            LOG.exception("unforeseen in archive")
            self._refusal = unforeseen("archive", error)
        else:
            post(ArchiveOpened(notice=archive.notice))
            return archive
        post(ArchiveRefused(text=self._refusal))
        return None

    def _reopened(self, archive: Archive, broken: StorageError, post: Callable[[Report], None]) -> Archive | None:
        """After the file was lost or found damaged: what the open one holds is put back, and the bench goes on."""
        LOG.error("the archive is opened anew: %s", type(broken).__name__)
        if isinstance(broken, LostFileError):
            guarded("archive", archive.rescue, lambda text: post(WorkerFaulted(text=text)))
        guarded("archive", archive.close, lambda text: None)
        return self._opened(post)

    def _next(self) -> ArchiveTask | None:
        """The next task; while there is none, a beat now and then."""
        while True:
            self.pulse.beat()
            try:
                task = self._tasks.get(timeout=LOOK_UP_S)
            except Empty:
                continue
            self.pulse.beat(busy=True)
            return task


def _answer(archive: Archive, task: ArchiveTask) -> tuple[Answer, StorageError | None]:
    """The answer to a task, whatever comes of it, and the error after which the archive must be opened anew."""
    try:
        return task(archive), None
    except (LostFileError, DamagedArchiveError) as error:
        return NotStored(text=error.what), error
    except CornerwiseError as error:
        return NotStored(text=error.what), None
    except Exception as error:
        LOG.exception("unforeseen in archive")
        return NotStored(text=unforeseen("archive", error)), None


class _Owed(Struct, frozen=True, kw_only=True):
    what: Part
    stop: Callable[[], None] | None


class Outbox:
    """The archive port with what it owes, in its order."""

    def __init__(self, archive: ArchiveThread) -> None:
        self._archive = archive
        self._owed: deque[_Owed] = deque()
        self._answered = 0  # since it last owed nothing

    @property
    def waiting(self) -> bool:
        """True while the archive owes an answer."""
        return bool(self._owed)

    def submit(self, task: ArchiveTask, what: Part = STORING, stop: Callable[[], None] | None = None) -> None:
        """Hand a task to the archive; `what` says what it does, and `stop` ends it where nothing is lost by that."""
        if not self._owed:
            self._answered = 0
        self._owed.append(_Owed(what=what, stop=stop))
        self._archive.submit(task)

    def answered(self) -> None:
        """One answer has come: to what was asked first."""
        if self._owed:
            self._owed.popleft()
            self._answered += 1

    def work(self, key: int) -> WorkMoved | None:
        """What the archive is at, and how much of what it was asked is done; None while it owes nothing."""
        if not self._owed:
            return None
        asked = self._answered + len(self._owed)
        share = self._answered / asked if asked > 1 else None
        stop = self._stop if self._owed[0].stop else None
        return WorkMoved(key=key, what=self._owed[0].what, share=share, stop=stop)

    def _stop(self) -> None:
        """Whatever was asked and can be stopped; what is to be stored is stored."""
        for owed in self._owed:
            if owed.stop is not None:
                owed.stop()

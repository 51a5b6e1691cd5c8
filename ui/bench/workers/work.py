"""One thing under way, from its worker's side: it says what it does and how far it is, and learns that nobody waits.

Input: the words for it, and how far the deed has come. Output: `WorkMoved` and `WorkEnded`, posted into the bench's
queue; StoppedError into the deed once the person has stopped it.
"""

import itertools
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from core.errors import StoppedError
from core.said import Part
from ui.state import Report

_KEYS = itertools.count(1)


class WorkMoved(Report, frozen=True, kw_only=True):
    """Something takes its time; `share` of it is done, from 0 to 1 (None: nobody knows), and `stop` ends it (None: it
    must not be stopped); it may be called from any thread."""

    key: int
    what: Part
    share: float | None = None
    stop: Callable[[], None] | None = None


class WorkEnded(Report, frozen=True, kw_only=True):
    """It is done, or failed, or was stopped."""

    key: int


class Work:
    """`stopping` ends what cannot look up by itself whether it is to stop, such as another process."""

    def __init__(self, post: Callable[[Report], None], what: Part, stopping: Callable[[], None] | None = None) -> None:
        self._post = post
        self._what = what
        self._stopping = stopping
        self._stopped = threading.Event()
        self._key = next(_KEYS)
        self._told_percent = -1
        self._may_stop = True
        self._moved(None)

    def told(self, done: int, of: int) -> None:
        """So much of it is done: said at every percent. Raises StoppedError once it was stopped."""
        self.look_up()
        percent = 100 * done // max(of, 1)
        if percent != self._told_percent:
            self._told_percent = percent
            self._moved(min(percent, 100) / 100.0)

    def says(self, what: Part) -> None:
        """It does something else now. Raises StoppedError once it was stopped."""
        self.look_up()
        self._what = what
        self._moved(None if self._told_percent < 0 else self._told_percent / 100.0)

    def must_end(self) -> None:
        """From here on it is no longer to be stopped. Raises StoppedError where it was stopped before."""
        self.look_up()
        self._may_stop = False
        self._moved(None)

    def look_up(self) -> None:
        """Raises StoppedError once it was stopped."""
        if self._may_stop and self._stopped.is_set():
            raise StoppedError

    def stop(self) -> None:
        """The person does not want to wait any longer; from any thread."""
        self._stopped.set()
        if self._stopping is not None:
            self._stopping()

    def end(self) -> None:
        """It is over, however it went."""
        self._post(WorkEnded(key=self._key))

    def _moved(self, share: float | None) -> None:
        stop = self.stop if self._may_stop else None
        self._post(WorkMoved(key=self._key, what=self._what, share=share, stop=stop))


@contextmanager
def under_way(post: Callable[[Report], None], what: Part, stopping: Callable[[], None] | None = None) -> Iterator[Work]:
    """Something that takes its time, for as long as the block lasts."""
    work = Work(post, what, stopping)
    try:
        yield work
    finally:
        work.end()

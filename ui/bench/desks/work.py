"""The desk of what takes its time, whoever does it: what is under way is said after a blink, how far it is once one
wonders, and it can be stopped once one may not want to wait.

Input: reports of the workers, and what the archive owes. Output: the next snapshot's `work`. The times are those at
which people lose the thread (0.1 to 1 s) and turn away (10 s): Card, Robertson and Mackinlay 1991, rounded down.
"""

from collections.abc import Callable

from msgspec import Struct
from msgspec.structs import replace

from core.said import said
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_thread import Outbox
from ui.bench.workers.work import WorkEnded, WorkMoved
from ui.state import Command, Snapshot, WorkSlice

SAID_S, HOW_FAR_S, STOPPABLE_S = 0.3, 2.0, 5.0
NOTHING_TO_STOP = said("Nothing is under way that could be stopped.")
OF_THE_ARCHIVE = 0


class StopWork(Command, frozen=True, kw_only=True):
    """Wait no longer for what is under way under this key."""

    key: int


class _Going(Struct, frozen=True, kw_only=True):
    since_s: float
    newest: WorkMoved


class WorkDesk(Desk):
    """Keeps what is under way, and since when. Shown is what was begun first."""

    def __init__(self, clock_s: Callable[[], float], outbox: Outbox) -> None:
        self._clock_s = clock_s
        self._outbox = outbox
        self._going: dict[int, _Going] = {}
        self.takes = {WorkMoved: self._moved, WorkEnded: self._ended, StopWork: self._stop}

    def refreshed(self, draft: Snapshot) -> Snapshot:
        """What is under way at this moment: it grows long without an event."""
        now_s = self._clock_s()
        self._look_at_the_archive(now_s)
        going = min(self._going.values(), key=lambda one: one.since_s, default=None)
        shown = None if going is None else _shown(going, now_s)
        return draft if shown == draft.work else replace(draft, work=shown)

    def _look_at_the_archive(self, now_s: float) -> None:
        """The archive's work is known by what it owes: no word of it goes through the queue for every reading."""
        owed = self._outbox.work(OF_THE_ARCHIVE)
        if owed is None:
            self._going.pop(OF_THE_ARCHIVE, None)
        else:
            self._take(owed, now_s)

    def _moved(self, draft: Snapshot, moved: WorkMoved) -> Snapshot:
        self._take(moved, self._clock_s())
        return draft

    def _take(self, moved: WorkMoved, now_s: float) -> None:
        before = self._going.get(moved.key)
        self._going[moved.key] = _Going(since_s=before.since_s if before else now_s, newest=moved)

    def _ended(self, draft: Snapshot, ended: WorkEnded) -> Snapshot:
        self._going.pop(ended.key, None)
        return draft

    def _stop(self, draft: Snapshot, wish: StopWork) -> Snapshot:
        going = self._going.get(wish.key)
        if going is None or going.newest.stop is None:
            return told(draft, NOTHING_TO_STOP, alarm=True)
        going.newest.stop()
        return told(draft, said("Stopping: one moment."))


def _shown(going: _Going, now_s: float) -> WorkSlice | None:
    long_s, newest = now_s - going.since_s, going.newest
    if long_s < SAID_S:
        return None
    return WorkSlice(
        key=newest.key,
        what=newest.what,
        percent=None if newest.share is None or long_s < HOW_FAR_S else round(100.0 * newest.share),
        can_stop=newest.stop is not None and long_s >= STOPPABLE_S,
    )

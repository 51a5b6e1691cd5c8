"""The inspector: holds the whole archive against its chains of checksums, once a start, beside whoever measures.

Input: the archive's file, by a connection of its own that only reads. Output: one report, posted into the bench's
queue. It takes its time: between two logs it lets everybody else go first.
"""

import logging
import threading
from collections.abc import Callable
from pathlib import Path

from core.errors import CornerwiseError
from core.records import HitLog, inspect
from core.said import Part
from ui.bench.supervision import WorkerFaulted, guarded
from ui.state import Report

LOG = logging.getLogger("cornerwise.inspector")
# Behind the first screen, which wants the card for itself.
BEGIN_S = 30.0
BREATH_S = 0.005


class RecordsInspected(Report, frozen=True, kw_only=True):
    """What the card has done to the records; `text` is empty where all is as it was written, `hit` the logs that are
    not."""

    text: Part
    hit: tuple[HitLog, ...] = ()


class Inspector:
    """One look at the archive at `path`."""

    def __init__(self, path: Path, *, begin_s: float = BEGIN_S) -> None:
        self._path = path
        self._begin_s = begin_s
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self, post: Callable[[Report], None]) -> None:
        """Begin after a while; `post` is called from the inspector's thread."""

        def run() -> None:
            if not self._closing.wait(self._begin_s) and self._path.exists():
                self._look(post)

        def failed(text: Part) -> None:
            post(WorkerFaulted(text=text))

        self._thread = threading.Thread(target=lambda: guarded("inspector", run, failed), name="inspector")
        self._thread.start()

    def close(self) -> None:
        """End at the next log, whether all was seen or not."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()

    def _look(self, post: Callable[[Report], None]) -> None:
        try:
            found = inspect(self._path, lambda: not self._closing.wait(BREATH_S))
        except CornerwiseError as error:
            post(RecordsInspected(text=error.what))
            return
        LOG.info("%d entries held against their chains, %d logs hit", found.entries, len(found.hit))
        if not self._closing.is_set():
            post(RecordsInspected(text=found.text, hit=found.hit))

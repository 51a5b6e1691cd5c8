"""What escapes from a screen: logged and said, and the window stays, unless it goes on and on.

A screen that fails at every frame shows nothing any more: then the program ends, and the service manager starts it anew
with every reading on the disk.
"""

import logging
from collections import deque
from collections.abc import Callable

from kivy.base import ExceptionHandler, ExceptionManager

from ui.bench import Bench, WorkerFaulted, unforeseen

LOG = logging.getLogger("cornerwise.screen")
MOST, WITHIN_S = 10, 30.0


class ScreenGuard(ExceptionHandler):
    """Handles what escapes from Kivy's loop; `clock_s` is any monotonic clock."""

    def __init__(self, bench: Bench, clock_s: Callable[[], float]) -> None:
        self._bench = bench
        self._clock_s = clock_s
        self._at_s: deque[float] = deque(maxlen=MOST)

    def handle_exception(self, inst: BaseException) -> int:
        """PASS where the window may go on, RAISE where it must not: on request, or after MOST within WITHIN_S."""
        if not isinstance(inst, Exception):
            return int(ExceptionManager.RAISE)
        now_s = self._clock_s()
        self._at_s.append(now_s)
        LOG.error("unforeseen on the screen", exc_info=inst)
        if len(self._at_s) == MOST and now_s - self._at_s[0] < WITHIN_S:
            return int(ExceptionManager.RAISE)
        self._bench.post(WorkerFaulted(text=unforeseen("screen", inst)))
        return int(ExceptionManager.PASS)

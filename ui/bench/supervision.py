"""No thread dies unseen: what nobody foresaw is logged, said and answered, and the thread goes on.

Stage: around every step of every worker. Input: steps. Output: their errors, worded, to whoever answers for the step;
and a pulse for each worker, by which the watchdog tells one that works from one that is dead.
"""

import logging
import time
from collections.abc import Callable

from core.errors import CornerwiseError, StoppedError
from core.said import Name, Part, said
from ui.state import Report

LOG = logging.getLogger("cornerwise")
# A worker that waits for work looks up at least so often; common practice is a second or two.
IDLE_S = 10.0
# One that works may be silent so long: a sync on a dying card takes a minute, a bad stick more.
BUSY_S = 300.0


class WorkerFaulted(Report, frozen=True, kw_only=True):
    """A worker met what nobody foresaw, and goes on; `text` says so."""

    text: Part


class Pulse:
    """The last progress of one worker: `beat` from its thread, `is_alive` from the screen's."""

    def __init__(self, clock_s: Callable[[], float] = time.monotonic) -> None:
        self._clock_s = clock_s
        self._at_s = clock_s()
        self._busy = False

    def beat(self, *, busy: bool = False) -> None:
        """The worker has just got on, and begins to work (`busy`) or to wait."""
        self._at_s, self._busy = self._clock_s(), busy

    def is_alive(self) -> bool:
        """False once it has been silent longer than work or waiting can take."""
        return self._clock_s() - self._at_s <= (BUSY_S if self._busy else IDLE_S)


def unforeseen(worker: str, error: BaseException) -> Part:
    """What to say of an error that nobody foresaw."""
    return said(
        "An error nobody foresaw, in the work of the {worker} ({kind}): it goes on, and the fault report tells more.",
        worker=Name(worker),
        kind=Name(type(error).__name__),
    )


def guarded(worker: str, step: Callable[[], object], answer: Callable[[Part], object]) -> bool:
    """Do a step; whatever escapes from it is logged and said to `answer`, and False is returned."""
    try:
        step()
    except Exception as error:
        LOG.exception("unforeseen in %s", worker)
        try:
            answer(unforeseen(worker, error))
        except Exception:
            LOG.exception("and it could not be said")
        return False
    return True


def answered(
    worker: str,
    deed: Callable[[], object],
    failed: Callable[[Part], object],
    stopped: Callable[[Part], object] | None = None,
) -> None:
    """Do it; what goes wrong is the answer, whatever it is: a refusal in its own words, the rest as unforeseen. Where
    the person did not want to wait, that is no failure: `stopped` hears it."""

    def foreseen() -> None:
        try:
            deed()
        except StoppedError as error:
            (stopped or failed)(error.what)
        except CornerwiseError as error:
            failed(error.what)

    guarded(worker, foreseen, failed)

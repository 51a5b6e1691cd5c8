"""What a maintainer needs to know afterwards: every thread's log, in one place and one form.

Input: `logging`, and whatever escapes from a thread. Output: lines for the journal (with the level as systemd reads it,
sd-daemon(3)), and the newest kept for the fault report. Nothing that a person typed goes in: loggers are told what
happened and where, never a name, a note or a reading.
"""

import logging
import os
import sys
import threading
import traceback
from collections import Counter, deque
from types import TracebackType

# So many lines of the newest are kept; one with a traceback is one line.
KEPT = 400
_SYSLOG = {logging.CRITICAL: 2, logging.ERROR: 3, logging.WARNING: 4, logging.INFO: 6, logging.DEBUG: 7}


class Journal(logging.Handler):
    """Keeps the newest records, counts all, and writes them where the service manager reads."""

    def __init__(self, *, to_journal: bool) -> None:
        super().__init__(logging.INFO)
        self._to_journal = to_journal
        self._newest: deque[str] = deque(maxlen=KEPT)
        self._counts: Counter[str] = Counter()

    def emit(self, record: logging.LogRecord) -> None:
        """One record: time, thread, logger, words, and where an exception came from without what it said."""
        text = f"{record.threadName}: {record.name}: {record.getMessage()}"
        if record.exc_info and record.exc_info[0] is not None:
            text += f" [{where(record.exc_info[0], record.exc_info[2])}]"
        self._counts[f"{record.levelname.lower()} {record.name}"] += 1
        self._newest.append(f"{record.created:.3f} {record.levelname} {text}")
        if self._to_journal:
            print(f"<{_SYSLOG.get(record.levelno, 6)}>{text}", file=sys.stderr, flush=True)

    def lines(self) -> tuple[str, ...]:
        """The newest, the oldest of them first."""
        return tuple(self._newest)

    def counts(self) -> dict[str, int]:
        """How many of each level and logger since the start."""
        return dict(sorted(self._counts.items()))


def where(kind: type[BaseException], trace: TracebackType | None) -> str:
    """The kind of an exception and the places it came through: its own words may hold what a person typed."""
    frames = traceback.extract_tb(trace)[-12:]
    places = " < ".join(f"{os.path.basename(one.filename)}:{one.lineno} {one.name}" for one in reversed(frames))  # noqa: PTH119
    return f"{kind.__name__} at {places}" if places else kind.__name__


def _unworded(record: logging.LogRecord) -> bool:
    """A loop puts the words of what escaped, and what it was at, into its message."""
    record.msg, record.args = "a loop's callback ended", ()
    return True


def keep_journal() -> Journal:
    """Have every log of ours kept, and what escapes from any thread logged."""
    log = logging.getLogger("cornerwise")
    journal = Journal(to_journal="JOURNAL_STREAM" in os.environ)
    log.setLevel(logging.INFO)
    log.addHandler(journal)
    log.propagate = False
    # The radio's library works in callbacks of a loop, and what escapes from one of those only the loop logs.
    loops = logging.getLogger("asyncio")
    loops.addHandler(journal)
    loops.addFilter(_unworded)
    before = sys.excepthook

    def escaped(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, Exception):
            log.critical("the program ended", exc_info=(kind, error, trace))
        before(kind, error, trace)

    def escaped_thread(args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None and not isinstance(args.exc_value, SystemExit):
            log.critical("a thread ended", exc_info=(args.exc_type, args.exc_value, args.exc_traceback))

    def escaped_callback(args: "sys.UnraisableHookArgs") -> None:
        log.critical(
            "a callback ended", exc_info=(args.exc_type, args.exc_value or args.exc_type(), args.exc_traceback)
        )

    sys.excepthook, threading.excepthook, sys.unraisablehook = escaped, escaped_thread, escaped_callback
    return journal


def kept_lines() -> tuple[tuple[str, ...], dict[str, int]]:
    """What this process has logged, newest last, and how much of each; empty where no journal is kept."""
    for handler in logging.getLogger("cornerwise").handlers:
        if isinstance(handler, Journal):
            return handler.lines(), handler.counts()
    return (), {}

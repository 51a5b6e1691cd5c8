"""A design corrected in a process of its own: it can be stopped at any moment, its memory is bounded, and whoever shows
the bench meanwhile keeps its rate.

Input: name, bytes and map of a design. Output: what correct_design says of it. What goes between the two processes is
pickled: both ends are this module.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import BadInputError, StoppedError
from core.said import Name, said

if TYPE_CHECKING:
    # Loaded, and pickle too, by whoever corrects a design.
    from core.geometry import Affine, CorrectedDesign

# The most things that a file may have take some 750 MB in the library that reads it, and half a minute of a PC.
_MOST_BYTES = 1536 * 1024 * 1024
_MOST_PROCESSOR_S = 300
# Where memory ends, the kernel ends this process and not the bench (OOMScoreAdjust= is handed down to children).
_ENDED_FIRST = "1000"
_COMMAND = (sys.executable, "-m", "ui.bench.workers.design_process")
_PIPE = subprocess.PIPE


class DesignProcess:
    """One correction at a time; `stop` may be called from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._stopped = False

    def expect(self) -> None:
        """A correction was asked for: from now on it can be stopped."""
        with self._lock:
            self._stopped = False

    def correct(self, name: str, content: bytes, correction: Affine) -> CorrectedDesign:
        """The design corrected; raises BadInputError as correct_design does, MemoryError where it is too large,
        StoppedError once `stop` was called."""
        import pickle

        from core.geometry import CorrectedDesign

        with self._lock:
            if self._stopped:
                raise StoppedError
            self._child = subprocess.Popen(_COMMAND, stdin=_PIPE, stdout=_PIPE, stderr=_PIPE)
        told, complaint = self._child.communicate(pickle.dumps((name, content, correction)))
        with self._lock:
            child, self._child = self._child, None
            if self._stopped:
                raise StoppedError
        if child.returncode == -signal.SIGKILL:  # by the kernel, where memory ended
            raise MemoryError
        if child.returncode == -signal.SIGXCPU:
            raise BadInputError(said("{file}: takes too long to correct: save the design in parts", file=Name(name)))
        if not told:
            last = complaint.decode("utf-8", "backslashreplace").strip().splitlines()[-1:]
            raise RuntimeError(f"the correction ended with {child.returncode}: {''.join(last)}")
        found = pickle.loads(told)
        if isinstance(found, CorrectedDesign):
            return found
        if found is None:
            raise MemoryError
        raise BadInputError(found)

    def stop(self) -> None:
        """End what is being corrected, or was asked for and has not begun, at once."""
        with self._lock:
            self._stopped = True
            if self._child is not None:
                self._child.kill()


def main() -> int:
    """The other end: one design from standard input to standard output."""
    import pickle
    import resource

    from core.geometry import correct_design

    resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (_MOST_PROCESSOR_S, resource.RLIM_INFINITY))
    Path("/proc/self/oom_score_adj").write_text(_ENDED_FIRST)
    name, content, correction = pickle.load(sys.stdin.buffer)
    found: object
    try:
        found = correct_design(name, content, correction)
    except BadInputError as error:
        found = error.what
    except RecursionError:
        found = said("{file}: nested too deep to be read", file=Name(name))
    except MemoryError:
        found = None
    pickle.dump(found, sys.stdout.buffer)
    return 0


if __name__ == "__main__":
    sys.exit(main())

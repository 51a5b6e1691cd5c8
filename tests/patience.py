"""How long a test waits for another thread or program: as long as ends a hang, for a busy machine fails nothing."""

import os
import select
import time
from pathlib import Path

WAIT_S = 240.0
_LOOK_EVERY_S = 0.1
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def hangs(pid: int, longest_s: float) -> bool:
    """Wait for a child's end without reaping it; True where it took more processor time than that, or slept as long:
    one that only waits for a processor that others have does neither."""
    slept_s, at_s, before_s = 0.0, time.monotonic(), 0.0
    ended = os.pidfd_open(pid)
    try:
        while not select.select([ended], [], [], _LOOK_EVERY_S)[0]:
            at_s, passed_s = (now_s := time.monotonic()), now_s - at_s
            taken_s, sleeps = _taken(pid)
            slept_s = slept_s + passed_s if sleeps and taken_s == before_s else 0.0
            before_s = taken_s
            if taken_s > longest_s or slept_s > longest_s:
                return True
    finally:
        os.close(ended)
    return False


def _taken(pid: int) -> tuple[float, bool]:
    """(Seconds of the processor, whether every thread sleeps), by proc_pid_stat(5)."""
    states, ticks = set(), 0
    for task in Path(f"/proc/{pid}/task").glob("*/stat"):
        try:
            fields = task.read_text().rpartition(")")[2].split()
        except (FileNotFoundError, ProcessLookupError):
            continue
        states.add(fields[0])
        ticks += int(fields[11]) + int(fields[12])
    return ticks / _TICKS_PER_S, states == {"S"}

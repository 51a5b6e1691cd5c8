"""Whoever holds the archive's lock gets a processor, however far behind it stands otherwise."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def unstarved() -> Iterator[None]:
    """Where this process runs only on what others leave (SCHED_IDLE), it runs like others for as long as this lasts.

    On a busy machine the leavings may come after minutes, and whoever waits for the lock would wait as long. Where that
    is not permitted (RLIMIT_NICE, which the unit of the sending service sets) nothing changes.
    """
    if os.sched_getscheduler(0) != os.SCHED_IDLE:
        yield
        return
    with suppress(PermissionError):
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    try:
        yield
    finally:
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))

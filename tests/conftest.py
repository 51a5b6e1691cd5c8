"""What holds for every test: the catalogues as the package's build makes them, where a .po was changed since, and no
deadline for an example, for a busy machine may take any time over one, no thread outlives its test, for the whole
run would never end, no test leaves a signal to a deed of its own that is over, for the run itself would no longer end
by it while its children do, and a test has the same name in every process, for the run is shared between some."""

from __future__ import annotations

import gc
import os
import shutil
import signal
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from ui.speech.locale.catalogues import FOLDER, compile_into

if any(
    not (made := catalogue.with_suffix(".mo")).exists() or made.stat().st_mtime < catalogue.stat().st_mtime
    for catalogue in FOLDER.glob("*.po")
):
    compile_into(FOLDER)

# What tests write lies in memory where there is room: a new archive is on the disk ten times before it is there, and a
# test would only wait for it. What a disk does to an archive is asked of file systems that the tests make themselves.
MEMORY, ROOM_BYTES = Path("/dev/shm"), 3 * 2**30
if (
    os.access(MEMORY, os.W_OK | os.X_OK)
    and shutil.disk_usage(MEMORY).free > ROOM_BYTES
    and not os.statvfs(MEMORY).f_flag & os.ST_NOEXEC
):
    os.environ.setdefault("TMPDIR", str(MEMORY))
    tempfile.tempdir = None  # looked up anew, should somebody have asked before

# An installed program is compiled; where the environment forbids to keep that, every process that a test starts would
# compile all of it anew, which is half of what it does.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

ENDING = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)

settings.register_profile("house", deadline=None)
settings.register_profile("long", max_examples=4000, deadline=None)
settings.load_profile("house")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: a test that waits for a process of its own leaves its core to another."""
    return len(os.sched_getaffinity(0)) + 1


@pytest.fixture(autouse=True)
def nothing_runs_on() -> Iterator[None]:
    """Python waits for every thread before it ends: one that a test left is that test's fault, not the run's."""
    before = set(threading.enumerate())
    yield
    left = [thread for thread in threading.enumerate() if thread not in before and not thread.daemon]
    assert not left, left


@pytest.fixture(autouse=True)
def signals_are_given_back() -> Iterator[None]:
    """A handler that a test left swallows the SIGTERM of whoever ends the run, and only its children die of it."""
    before = {number: signal.getsignal(number) for number in ENDING}
    yield
    after = {number: signal.getsignal(number) for number in ENDING}
    for number in ENDING:
        if after[number] != before[number]:
            signal.signal(number, before[number])
    assert after == before


def pytest_collection_finish() -> None:
    """Thousands of tests and their modules stay until the end: a look through them for garbage is a tenth of the time
    of every program that a test starts and drops; and a look every 700 objects, where a screen has ten thousands, is a
    fifth of it."""
    gc.freeze()
    gc.set_threshold(100_000, 20, 20)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A place in memory in a test's name differs from process to process: nothing would run at all."""
    if unstable := [item.nodeid for item in items if " at 0x" in item.nodeid]:
        raise pytest.UsageError(f"name these parameters (ids=): {unstable}")

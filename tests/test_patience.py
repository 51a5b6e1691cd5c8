"""What counts as a hang: a program that sleeps or toils for ever, never one that the machine has no time for."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from tests.patience import hangs


@contextmanager
def program(source: str) -> Iterator[subprocess.Popen[bytes]]:
    child = subprocess.Popen([sys.executable, "-S", "-c", source])
    try:
        yield child
    finally:
        child.kill()
        child.wait()


@pytest.mark.parametrize("source", ["import signal; signal.pause()", "while True: pass"])
def test_one_that_sleeps_or_toils_for_ever_hangs(source: str) -> None:
    with program(source) as child:
        assert hangs(child.pid, 0.5)


def test_one_that_gets_no_processor_does_not_hang() -> None:
    with program("pass") as child:
        child.send_signal(signal.SIGSTOP)
        goes_on = threading.Timer(2.0, child.send_signal, (signal.SIGCONT,))
        goes_on.start()
        assert not hangs(child.pid, 0.5)
        goes_on.join()
        assert child.wait() == 0

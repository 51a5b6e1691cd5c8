"""Two benches never work on one archive."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from core.errors import NotAvailableError
from ui.bench.alone import alone_on
from ui.start import BenchOptions, assembled

HOLDS = (
    "import sys; from pathlib import Path; from ui.bench.alone import alone_on\n"
    "with alone_on(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
)


def other_bench(folder: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_a_second_bench_on_a_folder_is_refused_and_told_whose_it_is(tmp_path: Path) -> None:
    other = other_bench(tmp_path)
    try:
        with pytest.raises(NotAvailableError, match=f"process {other.pid}"), assembled(BenchOptions(folder=tmp_path)):
            pass
    finally:
        other.communicate("")
    with alone_on(tmp_path):
        pass


def test_a_killed_bench_holds_nothing(tmp_path: Path) -> None:
    other = other_bench(tmp_path)
    os.kill(other.pid, signal.SIGKILL)
    other.communicate()
    with alone_on(tmp_path):
        pass


def test_a_folder_that_cannot_be_made_is_left_to_the_archive(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with alone_on(tmp_path / "file" / "folder"):
        pass

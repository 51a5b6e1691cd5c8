"""Two benches never work on one archive."""

from __future__ import annotations

import errno
import fcntl
import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from core.errors import NotAvailableError
from tests.core.records.test_archive_survives import small_disk
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


def test_a_file_system_without_locks_is_refused_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Some of those over a network. This kernel's own all lock, so its answer is stood in for."""

    def refuses(_handle: int, _operation: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", refuses)
    with pytest.raises(NotAvailableError, match="nothing can be locked"), alone_on(tmp_path):
        pass


def test_on_a_full_card_the_folder_is_held_all_the_same(tmp_path: Path) -> None:
    with small_disk(tmp_path / "card", "size=64k"):
        with suppress(OSError):
            (tmp_path / "card" / "filler").write_bytes(bytes(128 * 1024))
        with alone_on(tmp_path / "card"):
            assert (tmp_path / "card" / "bench.lock").read_bytes() == b""
            with pytest.raises(NotAvailableError, match="another bench is at work"), alone_on(tmp_path / "card"):
                pass

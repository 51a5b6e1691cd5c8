"""How far a command is: one line on a terminal, written over and taken away; nothing into a pipe."""

from __future__ import annotations

import io
import os
import pty
import signal
import subprocess
import sys
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

import ezdxf
import pytest

from core.records.archive import Archive
from core.said import said
from ui.bench.opening import HOUSE_COUPON, opening
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.terminal.waiting import waiting

ROOT = Path(__file__).parents[3]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("speech", "words"),
    [
        (Speech(), "saving the whole bench: 50 %"),
        (Speech(language=Language.GERMAN), "der ganze Messplatz wird gesichert: 50 %"),
    ],
)
def test_a_terminal_is_told_at_every_percent_and_left_clean(speech: Speech, words: str) -> None:
    terminal = Terminal()
    with waiting(terminal, speech, said("saving the whole bench")) as told:
        for done in range(1001):
            told(done, 1000)
    lines = terminal.getvalue().split("\r\x1b[K")
    assert words in [line.replace("\u00a0", " ") for line in lines]
    assert lines[1].endswith(" ...")  # nobody knows yet how far
    assert len(lines) == 1 + 1 + 101 + 1
    assert lines[-1] == ""


def test_what_ends_it_takes_the_line_away_too() -> None:
    terminal = Terminal()
    with suppress(KeyboardInterrupt), waiting(terminal, Speech(), said("saving the whole bench")) as told:
        told(1, 2)
        raise KeyboardInterrupt
    assert terminal.getvalue().endswith("\r\x1b[K")


def test_a_pipe_is_told_nothing() -> None:
    pipe = io.StringIO()
    with waiting(pipe, Speech(), said("saving the whole bench")) as told:
        told(1, 2)
    assert pipe.getvalue() == ""


def test_the_real_command_on_a_real_terminal(tmp_path: Path) -> None:
    """save-bench, then restore-bench: how far they are goes to stderr, what came of it alone to stdout."""
    data = tmp_path / "data"
    with closing(Archive.open(data / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
        archive.begin(opening(HOUSE_COUPON))
    told, saved = on_a_terminal("--data", str(data), "save-bench", "--to", str(tmp_path / "stick"))
    assert "saving the whole bench: 66 %" in told.replace("\u00a0", " ")
    folder = Path(saved.strip())
    assert folder.parent == tmp_path / "stick"
    told, restored = on_a_terminal("--data", str(tmp_path / "new card"), "restore-bench", str(folder))
    assert "taking the bench back: 100 %" in told.replace("\u00a0", " ")
    assert "is back" in restored
    assert told.endswith("\r\x1b[K")


def test_a_large_design_is_said_to_be_corrected_and_ctrl_c_ends_it_with_nothing_written(tmp_path: Path) -> None:
    """8 MB of outlines take seconds: who waits is told so, and need not wait."""
    design, out = tmp_path / "design.dxf", tmp_path / "out.dxf"
    large_dxf(design)
    assert 7_500_000 < design.stat().st_size < 8_500_000
    mine, its = pty.openpty()
    heard = ["env", "--default-signal=INT"]  # in a shell's background nobody hears it
    program = [sys.executable, "-m", "ui.command_line.cli"]
    command = [*heard, *program, "correct-design", str(design), str(out), "--skew", "0.2"]
    child = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=its, stderr=its)
    os.close(its)
    with os.fdopen(mine, "rb", buffering=0) as seen:
        told = b""
        while b"correcting the design ..." not in told:
            told += seen.read(65536)
        child.send_signal(signal.SIGINT)
        with suppress(OSError):  # the end of a pseudo-terminal
            while block := seen.read(65536):
                told += block
    assert child.wait() == 130
    assert told.endswith(b"\r\x1b[K")
    assert b"Traceback" not in told
    assert list(tmp_path.iterdir()) == [design]


def large_dxf(path: Path) -> None:
    """Outlines of a hundred corners, as a tracing program makes them."""
    document = ezdxf.new("R2010")
    corners = [(number % 10 + number * 0.001, number // 10 + number * 0.0003) for number in range(100)]
    for number in range(3_300):
        document.modelspace().add_lwpolyline([(x + number, y) for x, y in corners])
    document.saveas(path)


def on_a_terminal(*arguments: str) -> tuple[str, str]:
    """What a person sees on the terminal, and what the command prints into a pipe beside it."""
    mine, its = pty.openpty()
    command = [sys.executable, "-m", "ui.command_line.cli", *arguments]
    with os.fdopen(mine, "rb", buffering=0) as seen:
        done = subprocess.run(
            command,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=its,
            stdin=subprocess.DEVNULL,
            check=False,
        )
        os.close(its)
        told = b""
        with suppress(OSError):  # the end of a pseudo-terminal
            while block := seen.read(65536):
                told += block
    assert done.returncode == 0, told
    return told.decode(), done.stdout.decode()

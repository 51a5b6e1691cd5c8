"""Standard streams that are closed, full, gone, flooded or of another encoding: the status says what happened, and what
is no verdict never ends with a verdict's."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from ui.command_line import entry
from ui.terminal.exit_status import ExitStatus

ROOT = Path(__file__).parents[3]
PROGRAM = f"{shlex.quote(sys.executable)} -c 'import sys; from ui.command_line.entry import main; sys.exit(main())'"
NO_GO = "feature,value,unit\n" + 2 * "nl-fr,144.91,mm\nnr-fl,143.41,mm\n"
BROKEN_PIPE = 141


def shell(folder: Path, line: str, **environment: str) -> tuple[int, str]:
    """(Status of the program, all that reached us) of a line in which `cornerwise` stands for it."""
    (folder / "nogo.csv").write_text(NO_GO)
    done = subprocess.run(
        ["bash", "-c", "set -o pipefail; " + line.replace("cornerwise", PROGRAM)],
        env={**os.environ, "PYTHONPATH": str(ROOT), "CORNERWISE_DATA": str(folder / "data"), **environment},
        cwd=folder, capture_output=True, stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    return done.returncode, (done.stdout + done.stderr).decode()


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("cornerwise evaluate nogo.csv --size 120x80 >&-", ExitStatus.NO_GO),
        ("cornerwise evaluate nogo.csv --size 120x80 <&- >&- 2>&-", ExitStatus.NO_GO),
        ("cornerwise evaluate nogo.csv --size 120x80 >/dev/full", ExitStatus.NOT_AVAILABLE),
        ("cornerwise evaluate nogo.csv --size 120x80 --json >/dev/full 2>/dev/full", ExitStatus.NOT_AVAILABLE),
        ("cornerwise evaluate missing.csv 2>/dev/full", ExitStatus.BAD_INPUT),
        ("cornerwise evaluate missing.csv 2>&-", ExitStatus.BAD_INPUT),
        ("cornerwise evaluate missing.csv 2>&1 >/dev/null | true", ExitStatus.BAD_INPUT),
        ("cornerwise --data gone --text --size 120x80 >/dev/full", ExitStatus.NOT_AVAILABLE),
        ("cornerwise --data gone --text --size 120x80 | true", BROKEN_PIPE),
    ],
)
def test_the_status_says_what_happened(tmp_path: Path, line: str, status: int) -> None:
    found, said = shell(tmp_path, line)
    assert (found, "Traceback" in said) == (status, False), said
    assert "printed" in said or ">/dev/full 2" in line or ">/dev/full" not in line.replace("2>/dev/full", "")


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252:strict"])
def test_a_terminal_that_lacks_letters_gets_the_verdict_all_the_same(tmp_path: Path, encoding: str) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "settings.json").write_text('{"language": "de"}')
    status, said = shell(tmp_path, "cornerwise evaluate nogo.csv --size 120x80 | cat -v", PYTHONIOENCODING=encoding)
    assert status == ExitStatus.NO_GO, said
    assert "NICHT GUT" in said


# What is loaded first by the program, by this command of it, and by the bench alone.
LOADED = {
    "numpy": "evaluate nogo.csv --size 120x80",
    "csv": "evaluate nogo.csv --size 120x80",
    "queue": "--data gone --text --size 120x80",
}


@pytest.mark.parametrize(("module", "words"), LOADED.items(), ids=LOADED)
def test_what_cannot_be_loaded_does_not_read_as_no_go(tmp_path: Path, module: str, words: str) -> None:
    """A damaged card, in the program or in a command of it: Python's own status for an exception is that of NO-GO."""
    (tmp_path / f"{module}.py").write_text("raise OSError(5, 'Input/output error')")
    status, said = shell(tmp_path, f"PYTHONPATH=.:$PYTHONPATH cornerwise {words}")
    assert status == ExitStatus.INTERNAL, said
    assert entry._INTERNAL == ExitStatus.INTERNAL


def test_ports_that_cannot_be_listed_cost_the_ports_and_not_the_bench(tmp_path: Path) -> None:
    """The library for them is damaged: the bench comes up, says so and takes what is typed."""
    (tmp_path / "serial.py").write_text("raise OSError(5, 'Input/output error')")
    typed = "(until grep -q 'goes on' said; do sleep 0.1; done; echo near 119.85; echo quit)"
    bench = "PYTHONPATH=.:$PYTHONPATH cornerwise --data gone --text --size 120x80"
    status, said = shell(tmp_path, f"touch said; {typed} | {bench} > said 2>&1; status=$?; cat said; exit $status")
    assert "in the work of the cables (OSError): it goes on" in said
    assert "Accepted: near edge 119.85 mm" in said, said
    assert status == ExitStatus.UNDECIDED, said


@pytest.mark.parametrize(("module", "words"), LOADED.items(), ids=LOADED)
def test_ctrl_c_while_the_program_or_its_command_loads_ends_it_by_the_signal(
    tmp_path: Path, module: str, words: str
) -> None:
    (tmp_path / f"{module}.py").write_text("import os, signal; os.kill(os.getpid(), signal.SIGINT)")
    status, said = shell(tmp_path, f"PYTHONPATH=.:$PYTHONPATH cornerwise {words}")
    assert (status in (-signal.SIGINT, 128 + signal.SIGINT), said) == (True, "")  # bash may make way for the program

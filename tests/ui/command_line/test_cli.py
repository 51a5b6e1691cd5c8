"""Every ending of the program maps to a status, and none of them can be mistaken for a verdict."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from core.errors import BadInputError, DiskFullError, NotAvailableError
from ui.command_line import bench_command, cli

ROOT = Path(__file__).resolve().parents[3]


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "ui.command_line.cli", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_bad_usage_is_64_and_says_what_is_wrong() -> None:
    ended = run("--no-such-option")
    assert ended.returncode == 64
    assert "--no-such-option" in ended.stderr


def test_the_version_is_told() -> None:
    assert run("--version").stdout.startswith("cornerwise ")


@pytest.mark.parametrize("command", [["instruments"], ["doctor"], ["gauge-study", "study.csv", "--tolerance", "0.4"]])
def test_the_folder_may_stand_before_the_command_or_behind_it(command: list[str]) -> None:
    parser = cli.build_parser()
    for arguments in (["--data", "elsewhere", *command], [*command, "--data", "elsewhere"]):
        assert parser.parse_args(arguments).data == Path("elsewhere")
    assert parser.parse_args(command).data is None


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (BadInputError("the size is wrong"), 65),
        (NotAvailableError("no port"), 69),
        (DiskFullError("no room"), 69),
        (KeyboardInterrupt(), 130),
        (ZeroDivisionError(), 70),
    ],
)
def test_every_exception_has_its_status(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: BaseException, status: int
) -> None:
    def fail(_args: object) -> int:
        raise error

    monkeypatch.setattr(bench_command, "run", fail)
    assert cli.main([]) == status
    said = capsys.readouterr().err
    if status in (65, 69):
        assert said == f"cornerwise: {error}\n"
    if status == 70:
        assert "internal error" in said


@pytest.mark.parametrize("arguments", [["--help", "evaluate"], ["help", "evaluate"]])
def test_who_asks_what_there_is_sees_every_command(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Also where a command stands beside the question: of a named command alone its own options are told."""
    with pytest.raises(SystemExit):
        cli.main(arguments)
    told = "".join(capsys.readouterr())
    assert all(name in told for name in cli._COMMANDS)


@pytest.mark.parametrize("name", cli._COMMANDS)
def test_every_command_is_where_it_is_looked_for(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        cli.main([name, "--help"])
    assert end.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: cornerwise {name} ")


def test_a_verdict_nobody_read_is_no_verdict(tmp_path: Path) -> None:
    """`cornerwise evaluate ... | true` must not end with the status of go."""
    readings = tmp_path / "readings.csv"
    readings.write_text("feature,value,unit\nnear,119.9,mm\n", encoding="utf-8")
    program = f"{sys.executable} -m ui.command_line.cli evaluate {readings}"
    ended = subprocess.run(
        ["bash", "-c", f"({program}; echo status $? >&2) | true"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.stderr.splitlines()[-1] in ("status 141", "status 2")

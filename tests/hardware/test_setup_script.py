"""hardware/setup.sh run for real on a PATH of our own, where the tools of the system answer as the case wants.

That it sets up a real machine is proven outside the suite: by .ci/run, and in fresh Debian folders (hardware/proof.md).
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
REAL_TOOLS = ("cat", "cksum", "dirname", "du", "env", "grep", "mkdir", "sed", "sh", "sort", "tail", "tr", "wc")

# A Python that says its version, makes an environment of three files, and notes each installation.
PYTHON = """#!/bin/sh
case "$*" in
*"import sys; print(sys.executable)"*) echo "$0" ;;
*"--version"*) echo "Python 3.12.9" ;;
*"-m venv"*)
    for last; do :; done
    mkdir -p "$last/bin"
    cat "$0" >"$last/bin/python"; chmod +x "$last/bin/python"
    : >"$last/bin/cornerwise"; chmod +x "$last/bin/cornerwise" ;;
*"-m pip install"*--require-hashes*)
    echo "$*" >>"$PIP_LOG"
    echo "Ignoring one: it belongs to another system"
    echo "Collecting two==1.0 (from -r hardware/locks/bench.txt)"
    echo "Collecting three==1.0 (from -r hardware/locks/bench.txt)" ;;
*"-m pip install"*) echo "$*" >>"$PIP_LOG" ;;
esac
"""


class Machine:
    """A folder with a checkout and a PATH; `run` starts the set-up in it as an ordinary person."""

    def __init__(self, folder: Path) -> None:
        self.checkout, self.path, self.pip_log = folder / "checkout", folder / "path", folder / "pip.log"
        (self.checkout / "hardware").mkdir(parents=True)
        self.path.mkdir()
        shutil.copy(ROOT / "hardware/setup.sh", self.checkout / "hardware")
        shutil.copy(ROOT / "pyproject.toml", self.checkout)
        shutil.copytree(ROOT / "hardware" / "locks", self.checkout / "hardware" / "locks")
        for tool in (*REAL_TOOLS, "chmod"):
            (self.path / tool).symlink_to(str(shutil.which(tool)))
        self.tool("sleep", "exit 0")
        self.tool("id", "echo 1000")
        self.tool("dpkg-query", "echo installed")
        self.tool("python3.13", "echo 'shim: no such version' >&2; exit 127")
        (self.path / "python3.12").write_text(PYTHON)
        (self.path / "python3.12").chmod(0o755)

    def tool(self, name: str, script: str) -> None:
        (self.path / name).write_text(f"#!/bin/sh\n{script}\n")
        (self.path / name).chmod(0o755)

    def run(self, *options: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [self.path / "sh", "hardware/setup.sh", *options],
            cwd=self.checkout,
            env={"PATH": os.fspath(self.path), "HOME": os.fspath(self.checkout), "PIP_LOG": os.fspath(self.pip_log)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_where_sudo_asks_for_a_password_the_one_line_to_run_is_printed(machine: Machine) -> None:
    machine.tool("dpkg-query", "exit 1")
    machine.tool("sudo", "exit 1")
    done = machine.run()
    assert done.returncode == 69
    lines = [line for line in done.stderr.splitlines() if "apt-get" in line]
    assert len(lines) == 1
    assert lines[0].startswith("  sudo apt-get update && sudo apt-get install -y ")
    for library in ("libgbm1", "libdrm2", "libegl1", "libgles2", "libgl1-mesa-dri", "libmtdev1"):
        assert f" {library}" in lines[0]
    assert "python3" not in lines[0]
    assert not (machine.checkout / ".venv").exists()


def test_without_sudo_the_line_is_one_for_root(machine: Machine) -> None:
    machine.tool("dpkg-query", "exit 1")
    done = machine.run()
    assert done.returncode == 69
    assert "as root" in done.stderr
    assert "sudo" not in done.stderr


def test_without_a_python_that_fits_debians_own_is_asked_for(machine: Machine) -> None:
    (machine.path / "python3.12").unlink()
    done = machine.run()
    assert done.returncode == 69
    assert done.stderr.rstrip().endswith(" python3 python3-venv")


def test_a_shim_that_does_not_run_is_passed_over(machine: Machine) -> None:
    done = machine.run()
    assert done.returncode == 0, done.stderr
    assert "Python 3.12.9" in done.stdout
    libraries, itself = machine.pip_log.read_text().splitlines()
    assert "--require-hashes -r hardware/locks/bench.txt" in libraries
    assert "test.txt" not in libraries
    assert itself.endswith("--no-deps --no-build-isolation -e .")
    assert "330 MB" in done.stdout


def test_how_many_libraries_are_there_is_said_while_they_come(machine: Machine) -> None:
    """One of the three is passed over here; and in the end what it takes of the disk."""
    lock = machine.checkout / "hardware" / "locks" / "bench.txt"
    lock.write_text("one==1.0 ; sys_platform == 'elsewhere'\ntwo==1.0 \\\n    --hash=sha256:0\nthree==1.0\n")
    said = machine.run().stdout.splitlines()
    assert "setup:   library 2 of at most 3" in said
    assert any(line.startswith("setup: installed: ") and line.endswith(" MB in .venv") for line in said)


def test_why_it_broke_off_is_said(machine: Machine) -> None:
    broken = PYTHON.replace('    echo "Ignoring', '    echo "no such host"; exit 1\n    echo "Ignoring')
    (machine.path / "python3.12").write_text(broken)
    done = machine.run()
    assert done.returncode == 69
    assert "no such host" in done.stderr


def test_the_tests_tools_come_with_the_tests_line_and_stay(machine: Machine) -> None:
    machine.run()
    assert machine.run("--tests").returncode == 0
    assert "-r hardware/locks/test.txt" in machine.pip_log.read_text()
    assert "nothing to do" in machine.run().stdout
    assert "unknown option --test " in machine.run("--test").stderr


def test_an_environment_of_somebody_else_is_left_alone(machine: Machine) -> None:
    (machine.checkout / ".venv").mkdir()
    (machine.checkout / ".venv" / "mine").touch()
    done = machine.run()
    assert done.returncode == 69
    assert "did not make" in done.stderr
    assert (machine.checkout / ".venv" / "mine").exists()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write to any folder that is not mounted read-only")
def test_a_checkout_that_cannot_be_written_to_is_said(machine: Machine) -> None:
    machine.checkout.chmod(0o555)
    try:
        done = machine.run()
    finally:
        machine.checkout.chmod(0o755)
    assert done.returncode == 69
    assert "cannot be written to" in done.stderr


def test_the_second_run_does_nothing(machine: Machine) -> None:
    machine.run()
    done = machine.run()
    assert done.returncode == 0
    assert "nothing to do" in done.stdout
    assert len(machine.pip_log.read_text().splitlines()) == 2


def test_a_changed_list_of_libraries_is_brought_up_to_date(machine: Machine) -> None:
    machine.run()
    (machine.checkout / "pyproject.toml").write_text("# another list\n")
    assert machine.run().returncode == 0
    assert len(machine.pip_log.read_text().splitlines()) == 4


def test_an_installation_that_broke_off_is_done_again(machine: Machine) -> None:
    (machine.path / "python3.12").write_text(PYTHON.replace(') echo "$*" >>"$PIP_LOG"', ") exit 1"))
    assert machine.run().returncode == 69
    (machine.path / "python3.12").write_text(PYTHON)
    done = machine.run()
    assert done.returncode == 0
    assert "nothing to do" not in done.stdout

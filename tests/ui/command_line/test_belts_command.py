"""Belts from files, and by a recorder: a program in the place of arecord that plays what a microphone would hear."""

from __future__ import annotations

import io
import os
import stat
import sys
import wave
from pathlib import Path

import numpy as np
import pytest

from ui.command_line.cli import main
from ui.terminal.exit_status import ExitStatus

RATE = 16000


def pluck(file: Path, f_hz: float) -> Path:
    t = np.arange(RATE) / RATE
    sound = sum(np.sin(2 * np.pi * f_hz * n * t) * np.exp(-t * n / 0.4) / n**2 for n in range(1, 6))
    whole = np.round(12000 * np.concatenate([np.zeros(RATE // 2), sound])).astype("<i2")
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(whole.tobytes())
    return file


@pytest.fixture
def recorder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder first in the path; the program `arecord` in it hands out the next of the files named in `heard`."""
    folder = tmp_path / "bin"
    folder.mkdir()
    program = folder / "arecord"
    program.write_text(
        '#!/bin/sh\nread -r next < "$0.heard" && sed -i 1d "$0.heard" && exec cat "$next"\n'
        "echo 'audio open error: no such device' >&2; exit 1\n"
    )
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{folder}:/usr/bin:/bin")
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n" * 9))
    return folder / "arecord.heard"


def test_two_recordings_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    left, right = str(pluck(tmp_path / "l.wav", 92.0)), str(pluck(tmp_path / "r.wav", 80.0))
    assert main(["belts", left, right]) == ExitStatus.OK
    assert "the first belt is tighter by 32 ±" in capsys.readouterr().out
    assert main(["belts", left, right, "--lengths", "400", "460", "--mass", "0.008"]) == ExitStatus.OK
    out = capsys.readouterr().out
    assert "no difference in tension is proven" in out
    # T = mu (2 L f)²: 0.008 (2 x 0.4 x 92)² = 43.3 N
    assert "Tensions 43.3 ±" in out


def test_the_microphone_is_asked_until_a_belt_is_heard(
    tmp_path: Path, recorder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    heard = [pluck(tmp_path / "quiet.wav", 0.0), pluck(tmp_path / "l.wav", 92.0), pluck(tmp_path / "r.wav", 80.0)]
    recorder.write_text("".join(f"{file}\n" for file in heard))
    assert main(["belts"]) == ExitStatus.OK
    said = capsys.readouterr()
    assert "Heard nothing" in said.err
    for heard in said.out.split("Pluck the ")[:-1]:
        assert "power off and unplugged" in " ".join(heard.split()), "no hand is asked for without its caution"
    assert "92.0 ±" in said.out
    assert "the first belt is tighter" in said.out


def test_a_belt_that_is_never_heard_is_said(tmp_path: Path, recorder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorder.write_text(f"{pluck(tmp_path / 'quiet.wav', 0.0)}\n" * 3)
    assert main(["belts"]) == ExitStatus.BAD_INPUT
    assert "the left (or near) belt was not heard" in capsys.readouterr().err


def test_without_a_microphone_or_recorder_it_is_not_available(
    recorder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    recorder.write_text("")
    assert main(["belts"]) == ExitStatus.NOT_AVAILABLE
    assert "no such device" in capsys.readouterr().err
    monkeypatch.setenv("PATH", "")
    assert main(["belts"]) == ExitStatus.NOT_AVAILABLE
    assert "give two WAV files instead" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["one.wav"], "give two recordings"),
        (["l.wav", "r.wav", "--mass", "0.008"], "only with --lengths"),
        (["l.wav", "r.wav", "--lengths", "0", "400"], "more than zero"),
        (["missing.wav", "r.wav"], "missing.wav: cannot be read: No such file"),
    ],
)
def test_bad_input_in_one_line(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["belts", *words]) == ExitStatus.BAD_INPUT
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize("name", ["pipe.wav", "endless.wav"])
def test_what_is_no_ordinary_file_is_not_waited_for(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    (tmp_path / "endless.wav").symlink_to("/dev/zero")
    assert main(["belts", str(tmp_path / name), str(tmp_path / name)]) == ExitStatus.BAD_INPUT
    assert "no ordinary file" in capsys.readouterr().err

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ui.command_line.cli import main
from ui.terminal.exit_status import ExitStatus

DESIGN = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path d="M 5 5 L 50 5"/><text x="5" y="9">A</text></svg>'
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("design.svg").write_text(DESIGN, encoding="utf-8")
    return tmp_path


def test_a_corrected_copy_is_written_beside_the_original(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["correct-design", "design.svg", "out.svg", "--skew", "-0.35"]) == ExitStatus.OK
    assert (folder / "design.svg").read_text(encoding="utf-8") == DESIGN
    assert "matrix(" in (folder / "out.svg").read_text(encoding="utf-8")
    err = capsys.readouterr().err
    assert "1 text leans in the file" in err
    assert "keep the original" in err


def test_dxf_goes_the_same_way(folder: Path) -> None:
    assert main(["coupon", "--size", "120x80", "design.dxf"]) == ExitStatus.OK
    assert main(["correct-design", "design.dxf", "out.dxf", "--skew", "0.4", "--scale-x", "0.2"]) == ExitStatus.OK
    assert (folder / "out.dxf").stat().st_size > 500


@pytest.mark.parametrize("name", ["coupon.svg", "coupon.dxf"])
def test_the_corrected_coupon_proves_it(folder: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["coupon", "--size", "120x80", "--skew", "0.4", name]) == ExitStatus.OK
    assert "corrected for the machine's skew" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["design.svg", "out.svg", "--skew", "0"], "nothing to correct"),
        (["design.svg", "out.svg", "--skew", "12"], "within ±10°"),
        (["design.svg", "out.svg", "--skew", "nan"], "within ±10°"),
        (["design.svg", "out.svg", "--skew", "1", "--scale-y", "50"], "Y scale 50 %"),
        (["design.svg", "out.dxf", "--skew", "1"], "must end in .svg"),
        (["design.svg", "design.svg", "--skew", "1"], "there already"),
        (["missing.svg", "out.svg", "--skew", "1"], "No such file"),
        (["broken.svg", "out.svg", "--skew", "1"], "broken.svg: not an SVG file"),
        (["binary.svg", "out.svg", "--skew", "1"], "not an SVG file"),
        (["design.txt", "out.txt", "--skew", "1"], ".svgz or .dxf"),
        (["design", "out.svg", "--skew", "1"], ".svgz or .dxf"),
        (["pipe.svg", "out.svg", "--skew", "1"], "no ordinary file"),
        (["endless.dxf", "out.dxf", "--skew", "1"], "no ordinary file"),
    ],
)
def test_what_cannot_be_corrected_is_said_in_one_line(
    folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    (folder / "broken.svg").write_text("<svg", encoding="utf-8")
    (folder / "binary.svg").write_bytes(b"\xff\xfe\x00")
    (folder / "design.txt").write_text("words", encoding="utf-8")
    (folder / "design").write_text("words", encoding="utf-8")
    os.mkfifo(folder / "pipe.svg")
    (folder / "endless.dxf").symlink_to("/dev/zero")
    assert main(["correct-design", *words]) == ExitStatus.BAD_INPUT
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1

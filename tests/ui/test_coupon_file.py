from __future__ import annotations

from pathlib import Path

import pytest

from ui.command_line.cli import main
from ui.command_line.exit_status import ExitStatus


@pytest.mark.parametrize("ending", [".svg", ".dxf", ".SVG"])
def test_a_cut_file_is_written(tmp_path: Path, ending: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / f"coupon{ending}"
    assert main(["coupon", "--size", "120x80", "--window", "60x40", "--grid", "2x1", str(out)]) == ExitStatus.OK
    assert out.stat().st_size > 500
    assert "120 x 80 mm, window 60 x 40 mm, 2 x 1 on the bed" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--size", "120x80", "coupon.png"], ExitStatus.BAD_INPUT, ".svg or .dxf"),
        (["--size", "5x80", "coupon.svg"], ExitStatus.BAD_INPUT, "5 mm"),
        (["--size", "120x80", "--grid", "1.5x2", "coupon.svg"], ExitStatus.BAD_INPUT, "whole numbers"),
        (["--size", "120x80", "missing/coupon.svg"], ExitStatus.NOT_AVAILABLE, "No such file"),
    ],
)
def test_what_cannot_be_written_is_said_in_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    status: ExitStatus,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["coupon", *words]) == status
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_size_that_is_none_is_bad_usage(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["coupon", "--size", "large", "coupon.svg"])
    assert ended.value.code == ExitStatus.USAGE
    assert "120x80" in capsys.readouterr().err

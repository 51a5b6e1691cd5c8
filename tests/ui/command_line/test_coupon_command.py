from __future__ import annotations

from pathlib import Path

import pytest

from ui.command_line.cli import main
from ui.terminal.exit_status import ExitStatus


@pytest.mark.parametrize("ending", [".svg", ".dxf", ".SVG"])
def test_a_cut_file_is_written(tmp_path: Path, ending: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / f"coupon{ending}"
    assert main(["coupon", "--size", "120x80", "--window", "60x40", "--grid", "2x1", str(out)]) == ExitStatus.OK
    assert out.stat().st_size > 500
    assert "120 x 80 mm, window 60 x 40 mm, keyed seats 8 and 5 mm, 2 x 1 on the bed" in capsys.readouterr().err


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


@pytest.mark.parametrize(
    ("words", "said", "corners"),
    [
        ([], "keyed seats 8 and 5 mm", 8),
        (["--seats", "8,5"], "keyed seats 8 and 5 mm", 8),
        (["--seats", "5"], "seats 5 mm", 8),
        (["--seats", "6,5"], "too alike", 8),
        (["--seats", "0"], "120 x 80 mm;", 4),
    ],
)
def test_the_jaws_get_seats_unless_none_are_wanted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str, corners: int
) -> None:
    out = tmp_path / "coupon.svg"
    assert main(["coupon", "--size", "120x80", *words, "--lead-in", "0", str(out)]) == ExitStatus.OK
    assert said in capsys.readouterr().err
    outline = out.read_text(encoding="utf-8").rpartition("<path")[2]
    assert len(set(outline.partition('d="M ')[2].partition(" Z")[0].split(" L "))) == corners + 1  # and the start


def test_a_card_is_written_beside_it(tmp_path: Path) -> None:
    out, card = tmp_path / "coupon.dxf", tmp_path / "card.pdf"
    assert main(["coupon", "--size", "120x80", "--card", str(card), str(out)]) == ExitStatus.OK
    assert card.read_bytes().startswith(b"%PDF")
    assert out.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [(["--seats", "5,8"], "wider ones"), (["--seats", "70"], "third of a side"), (["--card", "card.txt"], ".pdf")],
)
def test_seats_and_cards_that_cannot_be_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["coupon", "--size", "120x80", *words, "coupon.svg"]) == ExitStatus.BAD_INPUT
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())

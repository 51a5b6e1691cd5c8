"""A grid of coupons typed in over several sessions, mapped and drawn; read back by an independent parser."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from svgpathtools import svg2paths

from core.errors import BadInputError
from core.records.grid import cell_of
from tests.ui.terminal.test_text_bench import run
from ui.command_line.cli import main
from ui.terminal.exit_status import ExitStatus

MACHINE = "machine template-router span_mm=640 held=screws screw_pitch_mm=1"


def readings(skew_deg: float, width_mm: float = 120.0, height_mm: float = 80.0) -> list[str]:
    """What a good hand types for a coupon with this skew, by trigonometry."""
    cos, sin = math.cos(math.radians(skew_deg)), math.sin(math.radians(skew_deg))
    lines = [f"{edge} {width_mm * cos:.3f}" for edge in ("near", "far")]
    lines += [f"{edge} {height_mm * cos:.3f}" for edge in ("left", "right")]
    lines.append(f"nl-fr {math.hypot(width_mm + height_mm * sin, height_mm * cos):.3f}")
    lines.append(f"nr-fl {math.hypot(width_mm - height_mm * sin, height_mm * cos):.3f}")
    return lines + [
        f"{corner} {90.0 - sign * skew_deg:.3f}" for corner, sign in (("nl", 1), ("nr", -1), ("fr", 1), ("fl", -1))
    ]


def cut_grid(folder: Path, skews: dict[str, float], extra: tuple[str, ...] = ("mark",)) -> None:
    for number, (place, skew_deg) in enumerate(skews.items()):
        described = [MACHINE] if number == 0 else []
        run(
            folder,
            [
                *described,
                f"new 120x80 mK grid spring {place}",
                *extra,
                *readings(skew_deg),
                *readings(skew_deg),
                "close",
            ],
        )


@pytest.fixture
def bed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CORNERWISE_DATA", str(tmp_path))
    return tmp_path


def test_a_bowed_gantry_shows_on_the_bed(bed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cut_grid(bed, {"A1": -0.2, "B1": 0.0, "C1": 0.2, "A2": -0.2, "B2": 0.0, "C2": 0.9})
    cut_grid(bed, {"C2": 0.2})  # measured again: the newest counts
    out = bed / "map.svg"
    assert main(["bed-map", "spring", "--svg", str(out)]) == ExitStatus.OK
    said = " ".join(capsys.readouterr().out.split())
    assert "Common skew 0.000 ±" in said
    assert "The skew changes by +0.400 ±" in said
    assert "the gantry is bowed" in said
    assert "C2 +0.2" in said
    paths, attributes = svg2paths(str(out), convert_rectangles_to_paths=False)
    # Neither the nominal outlines, dashed, nor the areas of limit and uncertainty, filled.
    leaning = [
        path
        for path, look in zip(paths, attributes, strict=True)
        if "stroke-dasharray" not in look and look.get("fill", "none") == "none"
    ]
    assert len(leaning) == 6
    # Drawn leaning to the right where the skew is positive, to the left where it is negative.
    leans = [path[2].start.real - path[0].start.real for path in leaning]
    # To a tenth: coupons measured later know the hand a little better.
    assert len({round(lean, 1) for lean in leans}) == 3


def test_what_cannot_be_mapped_is_said(bed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bed-map", "spring"]) == ExitStatus.BAD_INPUT
    assert "there is no archive yet" in capsys.readouterr().err
    cut_grid(bed, {"A1": 0.1, "B1": 0.1})
    cut_grid(bed, {"A2": 0.1, "B2": 0.1}, extra=())
    assert main(["bed-map", "spring"]) == ExitStatus.BAD_INPUT
    assert "2 coupons can be used and 4 are needed" in capsys.readouterr().err
    assert main(["bed-map", "autumn"]) == ExitStatus.BAD_INPUT
    assert "there is no grid 'autumn'" in capsys.readouterr().err


def test_a_place_is_a_letter_and_a_number(tmp_path: Path) -> None:
    assert (cell_of("A1"), cell_of("B3"), cell_of("H99")) == ((0, 0), (1, 2), (7, 98))
    for wrong in ("", "3B", "B0", "Z1", "B100"):
        with pytest.raises(BadInputError, match="a letter from A to H and a number"):
            cell_of(wrong)
    _, shown = run(tmp_path, ["new 120x80 grid spring 3B", "quit"])
    assert "such as B3" in shown

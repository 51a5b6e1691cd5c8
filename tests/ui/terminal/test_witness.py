"""The witness at the text bench: asked by itself once the skew is settled, answered by words, a move at the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.said import Said
from tests.ui.terminal.test_text_bench import run
from ui.bench.steps import empty_snapshot
from ui.terminal.commands import parse_line
from ui.terminal.witness import parse_witness_line

MACHINE = "machine mine span_mm=640 held=screws screw_pitch_mm=1"
# Seat to seat, a skew of about +0.6 degrees. SIMULATED.
KEYED = ("nl-fr 137.64", "nr-fl 138.93") * 2
EQUAL = ("nl-fr 140.33", "nr-fl 138.93") * 2


def test_keyed_seats_ask_for_the_mark_and_then_say_the_move(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["new 120x80 seats 8,5", MACHINE, *KEYED, "mark nl", "close"])
    words = " ".join(shown.split())
    assert "Which corner carried the mark on the bed?" in words
    assert "Near right: mark nr" in words
    assert "Correction:" in words
    assert "right end" in words


def test_without_a_gauge_a_try_square_a_reversal_or_a_trial_step_lead_to_a_move(tmp_path: Path) -> None:
    for name, answers, told in (
        ("square", ("light nl blade-end", "light nr corner"), "Correction:"),
        ("fence", ("fence", "reversal 2.51 lower lines"), "Correction:"),
        ("trial", ("trial",), "A trial step"),
        ("none", (), "No correction yet"),
    ):
        lines = ["new 120x80 seats 5", MACHINE, *EQUAL, *answers, "mark nl", "witness", "close"]
        _, shown = run(tmp_path / name, lines)
        words = " ".join(shown.split())
        assert "What tells which way it leans?" in words
        assert "Read the corners: nl 89.6" in words, "what is typed, not the name of a screen"
        assert told in words, name


@pytest.mark.parametrize("line", ["mark", "near 119.85", "reversal", "flip"])
def test_other_lines_are_left_to_others(line: str) -> None:
    assert parse_witness_line(line.split(), empty_snapshot(simulated=False)) is None


@pytest.mark.parametrize("line", ["mark upside-down", "light nl", "light fr corner", "reversal x lower", "flip 1 side"])
def test_what_is_not_understood_is_said(line: str) -> None:
    assert isinstance(parse_line(line, empty_snapshot(simulated=False)), Said)

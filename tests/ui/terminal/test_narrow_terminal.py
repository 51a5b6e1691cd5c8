"""In a terminal of 80 columns: nothing is written beyond them, no word is broken, the live line stays one line."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest

from core.metrology import VERDICT_WORD
from core.said import said
from tests.ui.bench_bits import SKEWED
from tests.ui.scenes import SCENES
from ui.bench import DEFAULT_SCENARIO
from ui.speech.language import Language
from ui.speech.notation import DecimalMark, LengthUnit, Notation
from ui.speech.speech import Speech
from ui.start import BenchOptions, assembled
from ui.state.settings import Settings, SettingsFile
from ui.terminal.text_bench import TextBench, live_line
from ui.terminal.verdict import verdict_text

COLUMNS = 80
TYPED = [f"{feature} {value}" for feature, value in SKEWED.items()]
JOB = (
    "help", "new 120x80", "mark", "machine mine span_mm=640 held=screws screw_pitch_mm=1", *TYPED, *TYPED[:6], "why",
    "predict", "history", "instruments", "close",
)  # fmt: skip


@pytest.mark.parametrize("language", Language)
@pytest.mark.parametrize("scenario", [None, DEFAULT_SCENARIO])
def test_nothing_is_written_beyond_the_last_column(tmp_path: Path, language: Language, scenario: str | None) -> None:
    SettingsFile(tmp_path).save(Settings(language=language))
    out = io.StringIO()
    job = JOB if scenario is None else ("near", "instruments", "stop", "close")
    with assembled(BenchOptions(folder=tmp_path, scenario=scenario)) as bench:
        TextBench(bench, out, columns=lambda: COLUMNS).run(job, quit_at_end=True)
    shown = re.split(r"[\r\n]+", out.getvalue())
    assert len(shown) > 20
    assert [line for line in shown if len(line) > COLUMNS] == []


def test_the_live_line_leaves_out_what_has_no_room_and_breaks_no_word() -> None:
    parts = ("[near edge 119.85 mm inside]", "[corner NL 90.1° inside]", "Read the near edge.")
    first, second, third = parts
    assert live_line(parts, 100) == f"{first}   {second}   {third}"
    assert live_line(parts, len(first) + len(second) + 5) == f"{first}   {second}"
    assert live_line(parts, len(first) + len(third) + 4) == f"{first}   {third}"
    assert live_line(parts, len(first) + 1) == first
    assert live_line(parts, len(first)) == second
    assert live_line((first,), len(first)) == first[:-1]
    assert live_line((), 80) == ""
    assert live_line(parts, 0) == ""


def test_the_live_line_is_written_over_itself(tmp_path: Path) -> None:
    """However narrow the terminal is: a longer line would begin a new row several times a second."""
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path, scenario=DEFAULT_SCENARIO)) as bench:
        TextBench(bench, out, columns=lambda: 30).run(("stop", "close"), quit_at_end=True)
    rewritten = [piece for piece in out.getvalue().split("\r") if "\n" not in piece]
    assert all(len(piece) < 30 for piece in rewritten)


@pytest.mark.parametrize("language", Language)
@pytest.mark.parametrize("lengths", LengthUnit)
@pytest.mark.parametrize("scene", ["no-go", "undecided"])
def test_every_row_of_the_verdict_ends_with_its_word(scene: str, lengths: LengthUnit, language: Language) -> None:
    """At 80 columns each UNDECIDED and "information" stood in a row of its own below its numbers."""
    speech = Speech(language=language, notation=Notation(lengths=lengths, mark=DecimalMark.COMMA))
    evaluation = SCENES[scene]().evaluation
    assert evaluation is not None
    told = speech.lines(verdict_text(evaluation), COLUMNS).splitlines()
    ends = {speech.say(word) for word in (*VERDICT_WORD.values(), said("information"), said("verdict"))}
    words = [line for line in told if line.strip() in ends]
    assert words == []
    assert sum(line.endswith(tuple(f" {end}" for end in ends)) for line in told) > len(evaluation.characteristics)


@pytest.mark.parametrize("language", Language)
def test_no_head_of_a_column_runs_into_the_next(tmp_path: Path, language: Language) -> None:
    SettingsFile(tmp_path).save(Settings(language=language))
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, out, columns=lambda: COLUMNS).run(["new 120x80", *TYPED[:2], "close"], quit_at_end=True)
    fit = Speech(language=language).say(said("best fit less mean"))
    (heads,) = (line for line in out.getvalue().splitlines() if line.endswith(fit))
    before = heads.removesuffix(fit)
    assert before.endswith(" ")
    assert before.split()[-1] == "n"

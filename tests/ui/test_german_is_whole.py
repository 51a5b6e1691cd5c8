"""German: no sentence of the text bench stays in English.

The screens are read in touch/test_german_fits.py, where they are drawn, and jobs by touch in test_whole_job.py.
"""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from core.geometry.features import Feature
from core.said import Part, Said, said
from tests.ui.english_left import assert_nothing_left, english_left, everything_said
from tests.ui.terminal.test_text_bench import TYPED
from ui.bench import DEFAULT_SCENARIO
from ui.speech.language import Language
from ui.start import BenchOptions, assembled
from ui.state.settings import Settings, SettingsFile
from ui.terminal.text_bench import TextBench

Heard = set[Part | str]
GERMAN = Settings(language=Language.GERMAN)


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> Heard:
    return everything_said(monkeypatch)


RIGHT = (
    "new 120x80",
    "mark",
    "machine mine span_mm=640 held=screws screw_pitch_mm=1",
    *TYPED,
    "why",
    "predict",
    "flip",
)
CORRECTED = ("correct", "done", "done", "done", "done", "done", "done", "gap 32.1", "gap 32.4", "done", "done", "close")
WRONG = (
    *("new 120", "bogus", "take", "near abc", "near 3 deg", "void x", "void 9 slipped", "near 144.2", "9", "3"),
    *("near 4.71", "2", "near 12", "nl 0.4", "window-width 3", "new 120x80 zz", "set", "set sound no", "machine"),
    *("machine nobody", "machine mine held=glue", "machine mine span_mm=x", "history", "history friday", "correct"),
    *("history since friday", "history machine nobody", "instruments", "instruments 7", "gap 3", "done", "design"),
    *("reference", "reference keep 32.1 32.4", "reset one-gap", "belts a.wav b.wav", "flip 1.4 lower", "flip 1 side"),
    *("event crash", "check caliper 0=0.30", "check gauge 80,80 100,100", "check caliper x", "download", "diagnose x"),
    *("near 119.85", "mark", "stop", "help"),
)


@pytest.mark.parametrize("lines", [(*RIGHT, *CORRECTED), (*RIGHT[:2], *WRONG), (*RIGHT[:3], *WRONG)])
def test_the_text_bench(tmp_path: Path, heard: Heard, lines: tuple[str, ...]) -> None:
    SettingsFile(tmp_path).save(GERMAN)
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, out, columns=None).run(lines, quit_at_end=True)
    assert_nothing_left(heard)
    assert "Probestück" in out.getvalue()


def test_the_simulated_bench_and_practice(tmp_path: Path, heard: Heard) -> None:
    SettingsFile(tmp_path).save(GERMAN)
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path, scenario=DEFAULT_SCENARIO)) as bench:
        TextBench(bench, out, columns=lambda: 80).run(("near", "instruments", "stop", "close"), quit_at_end=True)
    with assembled(BenchOptions(folder=tmp_path, scenario=DEFAULT_SCENARIO, practice=True)) as bench:
        TextBench(bench, out, columns=None).run(("practice", "stop", "diagnose nothing", "close"), quit_at_end=True)
    assert_nothing_left(heard)


def test_what_is_in_english_is_found() -> None:
    nobody = Said("Nobody has put this into German.")
    assert english_left(nobody) == [nobody.message]
    assert english_left(said("Not stored: {reason}", reason=nobody)) == [nobody.message]
    assert english_left("Measure corner NL") == ["Measure corner NL"]
    assert english_left(said("Measure {feature}", feature=Feature.NL.label)) == []

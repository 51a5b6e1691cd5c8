"""Settings: kept whole, restored, in force at once; a file that is damaged or says the unknown is left alone."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError, ReadOnlyError
from core.metrology.readings import Unit
from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.export import files_of
from core.records.saved_bench import ARCHIVE
from tests.ui.bench_bits import SKEWED, running_bench
from ui.bench.desks.measuring import CloseSession, ConfirmMark, TypeReading
from ui.bench.desks.settings import ChangeSettings
from ui.pages.setup import QUESTIONS, changed
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.start import BenchOptions, assembled
from ui.state.settings import FILE_NAME, Settings, SettingsFile, Theme
from ui.terminal.exit_status import ExitStatus
from ui.terminal.text_bench import TextBench

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
CHOSEN = Settings(
    theme=Theme.DARK,
    notation=Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS, mark=DecimalMark.COMMA),
    sound=False,
    rotation_deg=270,
    sleep_min=60,
)
UNREADABLE = {
    "empty": "",
    "cut off": '{"theme": "dark", "nota',
    "a list": "[1]",
    "no such theme": '{"theme": "purple"}',
    "an angle between": '{"rotation_deg": 45}',
    "nested without end": "[" * 500_000,
    "nested in a field": '{"theme": ' + "[" * 500_000,
}


def test_what_is_kept_comes_back(tmp_path: Path) -> None:
    file = SettingsFile(tmp_path / "new folder")
    assert file.load() == Settings()
    file.save(CHOSEN)
    assert SettingsFile(tmp_path / "new folder").load() == CHOSEN
    assert {path.name for path in (tmp_path / "new folder").iterdir()} == {FILE_NAME, f"{FILE_NAME}.sum"}


@pytest.mark.parametrize("text", UNREADABLE.values(), ids=UNREADABLE)
def test_what_cannot_be_read_is_told_and_left_alone(tmp_path: Path, text: str) -> None:
    path = tmp_path / FILE_NAME
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInputError, match=FILE_NAME):
        SettingsFile(tmp_path).load()
    with pytest.raises(BadInputError, match="mend it or remove it"):
        SettingsFile(tmp_path).save(CHOSEN)
    assert path.read_text(encoding="utf-8") == text


def test_choices_of_a_later_version_outlive_this_one(tmp_path: Path) -> None:
    """An update that was taken back: what both know holds and can be changed, what only the later one knows is kept."""
    path = tmp_path / FILE_NAME
    path.write_text('{"theme": "dark", "voice": "loud", "notation": {"lengths": "inch", "grads": true}}', "utf-8")
    file = SettingsFile(tmp_path)
    kept = file.load()
    assert (kept.theme, kept.notation.lengths) == (Theme.DARK, LengthUnit.INCH)
    file.save(replace(kept, theme=Theme.LIGHT))
    written = json.loads(path.read_text("utf-8"))
    assert (written["theme"], written["voice"], written["notation"]["grads"]) == ("light", "loud", True)
    assert file.load() == replace(kept, theme=Theme.LIGHT)


def test_the_bench_starts_as_delivered_and_says_why(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_text("{", encoding="utf-8")
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        assert bench.snapshot.settings == Settings()
        assert bench.snapshot.message is not None
        assert FILE_NAME in str(bench.snapshot.message.text)


def test_a_bench_remembers_what_was_chosen(tmp_path: Path) -> None:
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        bench.send(ChangeSettings(settings=CHOSEN))
        assert bench.pump().settings == CHOSEN
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        assert bench.snapshot.settings == CHOSEN


def test_settings_that_cannot_be_kept_hold_all_the_same(tmp_path: Path) -> None:
    class FullCard(SettingsFile):
        def save(self, settings: Settings) -> None:
            raise ReadOnlyError("settings.json: writing is refused here; nothing was written")

    with running_bench(tmp_path, settings_file=FullCard(tmp_path)) as under_test:
        under_test.bench.send(ChangeSettings(settings=CHOSEN))
        snapshot = under_test.stored()
        assert snapshot.settings == CHOSEN
        assert snapshot.message is not None
        assert str(snapshot.message.text).startswith("Not stored: settings.json")


def files_of_a_coupon(folder: Path, settings: Settings) -> dict[str, bytes]:
    """The download of the same coupon, typed in at a bench with these settings."""
    with running_bench(folder, utc_now=lambda: NOON) as under_test:
        under_test.bench.send(ChangeSettings(settings=settings))
        under_test.open()
        under_test.bench.send(ConfirmMark())
        under_test.stored()
        for feature, value in SKEWED.items():
            unit = Unit.MM if feature.is_length else Unit.DEG
            under_test.bench.send(TypeReading(feature=feature, shown=value, unit=unit))
            under_test.stored()
        under_test.bench.send(CloseSession())
        assert under_test.stored().closed
    archive = Archive.open(folder / ARCHIVE, lambda: NOON)
    try:
        record = reported_record(archive, archive.sessions()[0].id)
        return dict(files_of(replace(record, id="20260301-140509-0a1b2c3d")))
    finally:
        archive.close()


def test_files_do_not_know_what_was_chosen(tmp_path: Path) -> None:
    """Exports stay in millimetres and decimal degrees, with a decimal point."""
    plain = files_of_a_coupon(tmp_path / "plain", Settings())
    assert plain == files_of_a_coupon(tmp_path / "chosen", CHOSEN)
    assert any(name.endswith(".csv") for name in plain)
    assert b"119.85" in b"".join(content for name, content in plain.items() if name.endswith(".csv"))


def test_the_terminal_speaks_and_hears_the_units_that_were_chosen(tmp_path: Path) -> None:
    typed = [
        f"{feature} {value / 25.4:.4f}".replace(".", ",") if feature.is_length else f"{feature} {value}"
        for feature, value in SKEWED.items()
    ]
    out = io.StringIO()
    lines = ["set lengths inch", "set angles degrees-minutes-seconds", "set mark comma", "set", "new 120x80", "mark"]
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        status = TextBench(bench, out, columns=None).run([*lines, *typed, "close"], quit_at_end=True)
    shown = out.getvalue()
    assert status == ExitStatus.NO_GO
    assert "Accepted: near edge 4,7185 in" in shown
    assert "Accepted: corner NL 90°24′00″" in shown
    assert "Coupon 4,7244 x 3,1496 in" in shown
    assert not re.search(r"\d mm\b|\d\.\d|\d deg", shown)


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.name)
def test_every_answer_can_be_chosen_and_holds(question) -> None:
    for name, _words in question.choices:
        settings = changed(Settings(), question.name, name)
        assert settings is not None
        assert question.chosen(settings) == name
    assert changed(Settings(), question.name, "bogus") is None

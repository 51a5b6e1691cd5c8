"""German on paper and at the command line: the whole report, what commands print; what programs read never changes."""

from __future__ import annotations

import io
import json
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pypdf
import pytest
from msgspec.structs import replace

from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.export import files_of
from core.records.report_page import FAMILY, ReportPage
from core.records.report_pdf import FACT_NAME_MM
from core.records.report_rows import facts
from core.records.saved_bench import ARCHIVE
from core.records.session_record import SessionRecord
from tests.ui.english_left import listening
from tests.ui.terminal.test_text_bench import TYPED
from ui.command_line import cli
from ui.speech.language import Language
from ui.speech.notation import DecimalMark, LengthUnit, Notation
from ui.start import BenchOptions, assembled
from ui.state.settings import Settings, SettingsFile
from ui.terminal.text_bench import TextBench

GERMAN = Settings(language=Language.GERMAN, notation=Notation(mark=DecimalMark.COMMA))
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
HEADER = "feature,value,unit\n"
ROWS = "".join(f"{line.replace(' ', ',')},{'deg' if len(line.split()[0]) == 2 else 'mm'}\n" for line in TYPED)


def measured(folder: Path, *lines: str) -> SessionRecord:
    """The record of a coupon typed in on a described machine."""
    with assembled(BenchOptions(folder=folder)) as bench:
        TextBench(bench, io.StringIO(), columns=None).run(
            ("machine mine span_mm=640 held=screws screw_pitch_mm=1", "new 120x80", "mark", *lines, "close"),
            quit_at_end=True,
        )
    archive = Archive.open(folder / ARCHIVE, lambda: NOON)
    try:
        return reported_record(archive, archive.sessions()[0].id)
    finally:
        archive.close()


@pytest.mark.parametrize(
    "lines",
    [
        TYPED,
        ("check caliper 0=0.01,0.01 50.8=50.81", *TYPED[:5], "void 5 slipped", *TYPED[5:]),
        (*TYPED[:3], "right 76.86", *TYPED[4:]),
        TYPED[:2],
    ],
    ids=["whole", "checked", "contradictory", "two-diagonals"],
)
def test_the_report_is_in_german(tmp_path: Path, lines: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    record, heard = measured(tmp_path, *lines), listening(monkeypatch)
    english = files_of(record)
    german = files_of(record, GERMAN.speech.on_paper)
    left = sorted(heard.missing)
    assert not left, left
    for_customer, annex = (page.extract_text() for page in pypdf.PdfReader(io.BytesIO(german["report.pdf"])).pages)
    text = for_customer + annex
    assert "Bericht zur Rechtwinkligkeit" in for_customer
    assert "Anhang: wie gemessen wurde" in annex
    # Words of statistics are for whoever measures.
    for word in ("Residu", "Freiheitsgrad", "Chi-Quadrat", "k = 1"):
        assert word not in for_customer
    assert "Freiheitsgrad" in annex
    assert "143,62" in text.replace("\n", "")
    # What programs read is the same in every language.
    assert {name for name in english if english[name] != german[name]} == {
        "index.html",
        "report.pdf",
        "SHA256SUMS",
    }


@pytest.fixture
def german(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CORNERWISE_DATA", str(tmp_path))
    for folder in (tmp_path, tmp_path / "simulated"):
        SettingsFile(folder).save(GERMAN)
    (tmp_path / "coupon.csv").write_text(HEADER + ROWS + ROWS, encoding="utf-8")
    study = "operator,part,value,unit\n" + "".join(
        f"{who},{part},{120 + part * 0.3 + trial * 0.01},mm\n" for who in "ab" for part in (1, 2, 3) for trial in (0, 1)
    )
    (tmp_path / "study.csv").write_text(study, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("evaluate", "coupon.csv", "--span", "640"), "Von vorn gesehen das"),
        (("evaluate", "coupon.csv", "--class", "XL"), "Toleranzklasse"),
        (("evaluate", "none.csv"), "lässt sich nicht lesen: Datei oder Verzeichnis nicht vorhanden"),
        (("gauge-study", "study.csv", "--tolerance", "0.4"), "Wiederholpräzision"),
        (("doctor",), "Karte"),
        (("instruments", "--formats"), "Länge, Kabel"),
        (("instruments", "--simulate", "--listen", "0.5"), "SIMULIERT"),
        (("coupon", "--size", "120x80", "coupon.svg"), "vorderen linken Ecke"),
        (("correct-design", "coupon.csv", "out.csv", "--skew", "-0.3"), "muss auf .svg, .svgz oder .dxf enden"),
        (("belts", "one.wav"), "zwei Aufnahmen"),
        (("export", "last", "--to", "out"), "noch kein Archiv"),
    ],
)
def test_commands_speak_german(
    german: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(german)
    cli.main(arguments)
    printed = "".join(capsys.readouterr())
    assert said in printed
    assert not [word for word in (" the ", " is ", " and ", " must ") if word in printed]


def test_a_program_reads_the_same_in_every_language(
    german: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(german)
    status = cli.main(("evaluate", "coupon.csv", "--span", "640", "--json"))
    in_german = capsys.readouterr().out
    SettingsFile(german).save(replace(GERMAN, language=Language.ENGLISH, notation=Notation()))
    assert cli.main(("evaluate", "coupon.csv", "--span", "640", "--json")) == status
    assert capsys.readouterr().out == in_german
    assert json.loads(in_german)


def paper(report: bytes) -> str:
    """All pages as text."""
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(report)).pages)


def test_names_stay_as_they_were_given(tmp_path: Path) -> None:
    """A machine named as a side is called in German, and a reason that holds words of the catalogue."""
    reason = "slipped. No, Left of 3 mm edge"
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        lines = ("machine Left span_mm=640", "new 120x80", "mark", *TYPED, f"void 5 {reason}", "close")
        TextBench(bench, io.StringIO(), columns=None).run(lines, quit_at_end=True)
    archive = Archive.open(tmp_path / ARCHIVE, lambda: NOON)
    try:
        record = reported_record(archive, archive.sessions()[0].id)
    finally:
        archive.close()
    inches = replace(GERMAN, notation=Notation(lengths=LengthUnit.INCH, mark=DecimalMark.COMMA))
    for spoken in (GERMAN.speech.on_paper, inches.speech.on_paper):
        text = paper(files_of(record, spoken)["report.pdf"]).replace("\n", " ")
        assert "Left" in text.split("Maschine")[1][:12]
        assert f"1 gestrichen ({reason})" in text
        assert "Links" not in text


def test_the_report_tells_the_time_of_the_wall_and_its_zone(tmp_path: Path) -> None:
    """Files keep UTC; people read their own clock (two hours before UTC+2 it is noon, 14:00 CEST)."""
    record = measured(tmp_path, *TYPED)
    log = tuple(replace(event, time_utc=NOON) for event in record.session.log)
    noon = replace(record, session=replace(record.session, log=log))
    summer = replace(GERMAN.speech, zone=timezone(timedelta(hours=2), "CEST")).on_paper
    assert "2026-03-01 14:00 CEST" in paper(files_of(noon, summer)["report.pdf"])
    assert b"2026-03-01T12:00" in files_of(noon, summer)["session.json"]


@pytest.mark.parametrize("settings", [Settings(), GERMAN], ids=["English", "German"])
def test_what_a_fact_is_called_stands_clear_of_it(tmp_path: Path, settings: Settings) -> None:
    labels = [f"label {field} 4711" for field in ("order", "customer", "operator", "shop", "caliper", "gauge")]
    record = measured(tmp_path, *labels, *TYPED, "note so")
    with closing(ReportPage(4.0, settings.speech)) as ruler:
        ruler.set_font(FAMILY, "", 8.0)
        wide_mm = {ruler.words(name): ruler.get_string_width(ruler.words(name)) for name, _fact in facts(record)}
    assert len(wide_mm) >= 10
    assert {name: wide for name, wide in wide_mm.items() if wide > FACT_NAME_MM - 2.0} == {}

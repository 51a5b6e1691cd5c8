"""The download as the person finds it: whole, true in all its forms, the same on every machine."""

from __future__ import annotations

import errno
import hashlib
import io
import json
import locale
import os
import re
import resource
import signal
import subprocess
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

import jsonschema
import pypdf
import pytest
from msgspec.structs import replace

from core.errors import BadInputError, DiskFullError, StorageError
from core.geometry.features import Feature
from core.machine.profile import MachineProfile
from core.metrology.evaluation import evaluate
from core.metrology.readings import Reading
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.records import whole_writing
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.checksums import verify_folder
from core.records.comparison import reported_record
from core.records.events import Closed, Event, Labelled, Note, Opened, ReadingAccepted
from core.records.export import files_of
from core.records.import_folder import import_folder
from core.records.readings_csv import parse_readings
from core.records.report_page import FAMILY, ReportPage
from core.records.session import Session
from core.records.session_json import parse_session
from core.records.session_record import SessionRecord, record_session
from core.records.whole_writing import write_file, write_folder
from core.said import Said, Voice
from tests.core.records.schemas import schema

NAMES = {"index.html", "session.json", "readings.csv", "report.pdf", "shape.svg", "coupon.svg", "SHA256SUMS"}


def pdf_text(content: bytes) -> str:
    reader = pypdf.PdfReader(io.BytesIO(content))
    for_customer, annex = (page.extract_text() for page in reader.pages)
    assert "Residual" not in for_customer
    return f"{for_customer}\n{annex}".replace("−", "-")


def test_the_skew_is_said_on_the_person_s_own_part(archive: Archive, record: SessionRecord) -> None:
    """A profile says how long the parts are; without one it is 400 mm."""
    assert "On a side of 400 mm the skew is" in pdf_text(files_of(record)["report.pdf"])
    archive.save_machine(MachineProfile(name="template router", span_mm=640.0, part_side_mm=700.0))
    told = pdf_text(files_of(archived_record(archive, record.id))["report.pdf"])
    assert "On a side of 700 mm the skew is" in told
    assert "400 mm" not in told


def test_the_word_of_the_report_says_which_group_it_is_about(archive: Archive, opened: Opened) -> None:
    """A square coupon with an edge too long was "squareness: NO-GO" on the customer's page."""
    session = archive.begin(opened)
    coupon = opened.coupon
    for feature in (Feature.NL_FR, Feature.NR_FL, Feature.NEAR, Feature.RIGHT, Feature.FAR, Feature.LEFT):
        long_mm = 1.0 if feature in (Feature.NEAR, Feature.FAR) else 0.0
        diagonal_mm = 0.83 if feature in (Feature.NL_FR, Feature.NR_FL) else 0.0  # of a coupon 121 mm wide
        value = coupon.nominal(feature) + long_mm + diagonal_mm
        for _twice in range(2):
            archive.append(session, ReadingAccepted(reading=Reading(feature=feature, value=value)))
    record = archived_record(archive, session)
    assert record.evaluation.verdict_of is CharacteristicGroup.SIZE
    words = pdf_text(files_of(record)["report.pdf"]).splitlines()
    place = words.index("NO-GO")
    assert words[place - 1] == "size"
    assert "squareness" not in words[:place]


def test_a_word_that_is_not_settled_is_nowhere_printed_without_that(archive: Archive, opened: Opened) -> None:
    """Both diagonals once: far out of square, but one slip could turn it."""
    session = archive.begin(opened)
    for feature, off_mm in ((Feature.NL_FR, 1.5), (Feature.NR_FL, -1.5)):
        reading = Reading(feature=feature, value=opened.coupon.nominal(feature) + off_mm)
        archive.append(session, ReadingAccepted(reading=reading))
    record = archived_record(archive, session)
    assert (record.evaluation.verdict, record.evaluation.settled) == (Verdict.NO_GO, False)
    files = files_of(record)
    words = pdf_text(files["report.pdf"]).splitlines()
    assert words[words.index("NO-GO") - 1] == "squareness, not settled"
    assert "squareness, not settled" in files["index.html"].decode()


def test_the_three_forms_agree_on_every_number(record: SessionRecord) -> None:
    """CSV judged again gives the result of session.json; the report prints session.json's numbers, rounded once."""
    files = files_of(record)
    result = json.loads(files["session.json"])["result"]
    readings = parse_readings(files["readings.csv"], "readings.csv").readings
    again = evaluate(record.session.opened.coupon, readings, record.session.opened.limits, record.session.setup)
    printed = pdf_text(files["report.pdf"])
    assert again.verdict == result["verdict"]
    assert again.adjustment.skew_deg.value == result["shape"]["skew_deg"]["value"]
    for characteristic, again_found in zip(result["characteristics"], again.characteristics, strict=True):
        assert characteristic["value"] == again_found.value
        row = f"{characteristic['value']:.3f}{characteristic['U95']:.3f}"
        assert row in re.sub(r"\s", "", printed), characteristic["name"]
    for reading in result["fit"]["readings"]:
        assert f"{reading['value']:.3f}" in printed
        assert f"{reading['residual']:+.3f}".replace("+0.000", "0.000") in printed
    assert f"skew {result['shape']['skew_deg']['value']:+.2f}" in printed.lower()
    zero = json.loads(files["session.json"])["checks"][0]["last"]["zero"]
    assert f"caliper: checked 2026-03-01, zero {zero['value']:+.3f} ± {zero['U95']:.3f} mm" in " ".join(printed.split())


def test_session_json_fits_its_schema_and_gives_the_session_back(record: SessionRecord) -> None:
    text = files_of(record)["session.json"].decode()
    data = json.loads(text)
    jsonschema.validate(data, schema("session"), cls=jsonschema.Draft202012Validator)
    jsonschema.validate(data["result"], schema("evaluation"), cls=jsonschema.Draft202012Validator)
    session_id, events = parse_session(text)
    assert session_id == record.id
    assert events == record.session.log


def test_voided_readings_are_told_and_not_counted(record: SessionRecord) -> None:
    text = files_of(record)["readings.csv"].decode()
    assert "# voided (digit misread): nl-fr,146.61,mm,caliper,2026-03-01T14:05:11.750Z\r\n" in text
    assert len(parse_readings(text.encode(), "readings.csv").readings) == 8


def test_every_form_of_a_simulated_session_says_so(record: SessionRecord) -> None:
    files = files_of(record)
    for name in ("readings.csv", "shape.svg", "coupon.svg"):
        assert b"SIMULATED" in files[name]
    assert json.loads(files["session.json"])["simulated"] is True
    # Twice on the page for the customer, and across the annex.
    assert pdf_text(files["report.pdf"]).count("SIMULATED") == 3
    session = replace(record.session, opened=replace(record.session.opened, simulated=False))
    real = files_of(record_session(record.id, session))
    assert not any(b"SIMULATED" in content for content in real.values())
    assert "SIMULATED" not in pdf_text(real["report.pdf"])


class _Titled(Voice, frozen=True, kw_only=True):
    title: str

    def template(self, sentence: Said, context: str = "") -> str | None:
        return self.title if sentence.message == "Squareness report" else sentence.message


@pytest.mark.parametrize("title", ["Squareness report", "Bericht zur Rechtwinkligkeit"])
def test_the_stamp_stands_clear_of_a_title_in_any_language(record: SessionRecord, title: str) -> None:
    voice = _Titled(title=title)
    starts_mm: dict[str, float] = {}

    def keep(text: str, _cm: object, at: list[float], _font: object, size_pt: float) -> None:
        if size_pt < 90.0:  # the large one lies under everything
            starts_mm.setdefault(text.strip(), at[4] * 25.4 / 72.0)

    page, _annex = pypdf.PdfReader(io.BytesIO(files_of(record, voice)["report.pdf"])).pages
    page.extract_text(visitor_text=keep)
    with closing(ReportPage(4.0, voice)) as ruler:
        ruler.set_font(FAMILY, "B", 16.0)
        assert starts_mm["SIMULATED"] > starts_mm[title] + ruler.get_string_width(title)


def test_the_same_record_gives_the_same_bytes(record: SessionRecord) -> None:
    assert files_of(record) == files_of(record)


def test_no_locale_changes_a_number(record: SessionRecord, monkeypatch: pytest.MonkeyPatch) -> None:
    """With decimal comma and thousands mark in force, where the system has such a locale."""
    before = files_of(record)
    had = locale.setlocale(locale.LC_ALL)
    for name in ("de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "C.UTF-8"):
        try:
            locale.setlocale(locale.LC_ALL, name)
            break
        except locale.Error:
            continue
    # Where no such locale is installed, at least what the locale module says is a comma.
    monkeypatch.setattr(locale, "localeconv", lambda: {"decimal_point": ",", "thousands_sep": ".", "grouping": [3, 0]})
    try:
        assert files_of(record) == before
    finally:
        locale.setlocale(locale.LC_ALL, had)


def test_the_page_holds_the_longest_session(record: SessionRecord) -> None:
    """Nothing runs off the page or into the notes at its foot when everything there can be is there."""
    words = "a rather long name of something in the workshop, "
    label = Labelled(order=words, customer=words, operator=words, shop=words, caliper=words, gauge=words)
    opened = replace(record.session.opened, machine=words, instruments=(words, words), span_mm=640.0)
    session = replace(record.session, opened=opened)
    for payload in (label, Note(text="the last of the facts")):
        session = session.with_event(Event(sequence=session.log[-1].sequence + 1, time_utc=None, payload=payload))
    checks = tuple(replace(record.checks[0], instrument=f"caliper {n}") for n in range(4))
    printed = pypdf.PdfReader(io.BytesIO(files_of(record_session(record.id, session, checks=checks))["report.pdf"]))
    heights: dict[str, float] = {}

    def look(text: str, _: object, matrix: list[float], font: object, size: float) -> None:
        heights[text.strip()] = matrix[5]

    printed.pages[0].extract_text(visitor_text=look)
    notes = next(y for text, y in heights.items() if text.startswith("GO: inside"))
    before = next(y for text, y in heights.items() if text.startswith("No earlier coupon"))
    last_fact = next(y for text, y in heights.items() if "the last of the facts" in text)
    table = next(y for text, y in heights.items() if text.startswith("characteristic"))
    assert last_fact > table
    assert before > notes + 5.0


def test_a_folder_is_whole_and_its_checksums_are_those_of_the_system_tool(
    record: SessionRecord, tmp_path: Path
) -> None:
    target = tmp_path / "stick" / record.id
    write_folder(files_of(record), target)
    assert {path.name for path in target.iterdir()} == NAMES
    assert [path.name for path in target.parent.iterdir()] == [record.id]
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]+", name) for name in (*NAMES, record.id))
    checked = subprocess.run(["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=target, capture_output=True)
    assert checked.returncode == 0


def test_writing_again_changes_nothing_and_a_longer_log_replaces_the_folder(
    archive: Archive, recorded: str, tmp_path: Path
) -> None:
    target = tmp_path / recorded
    write_folder(files_of(archived_record(archive, recorded)), target)
    inode = target.stat().st_ino
    write_folder(files_of(archived_record(archive, recorded)), target)
    assert target.stat().st_ino == inode
    archive.append(recorded, Note(text="sheet 5 warped"))
    write_folder(files_of(archived_record(archive, recorded)), target)
    assert "sheet 5 warped" in (target / "session.json").read_text()
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(recorded)] == [recorded]


def test_remains_of_an_attempt_cut_off_are_removed(record: SessionRecord, tmp_path: Path) -> None:
    remains = tmp_path / f"{record.id}-partial-0badcafe"
    remains.mkdir()
    (remains / "session.json").write_text("{")
    write_folder(files_of(record), tmp_path / record.id)
    assert [path.name for path in tmp_path.iterdir() if path.is_dir() and path.name != "bench"] == [record.id]


@pytest.mark.parametrize("nth", range(1, 15))
def test_a_write_that_fails_anywhere_leaves_nothing_half(
    record: SessionRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nth: int
) -> None:
    """The n-th fsync reports a full disk, for every n: each file, the new folder, and the folder around it."""
    calls = 0
    real = os.fsync

    def fsync(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == nth:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    target = tmp_path / "stick" / record.id
    target.parent.mkdir()
    monkeypatch.setattr(whole_writing.os, "fsync", fsync)
    if nth <= len(NAMES) + 2:
        with pytest.raises(DiskFullError, match="no room"):
            write_folder(files_of(record), target)
        names = [path.name for path in target.parent.iterdir()]
        assert names in ([], [record.id])  # the folder around it failed to sync: whole, but not surely kept
        if names:
            verify_folder(target)
    else:
        write_folder(files_of(record), target)
        assert calls == len(NAMES) + 2


def test_a_replacement_that_fails_puts_the_old_folder_back(
    archive: Archive, recorded: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "stick" / recorded
    before = files_of(archived_record(archive, recorded))
    write_folder(before, target)
    archive.append(recorded, Note(text="sheet 5 warped"))
    real = Path.rename

    def rename(path: Path, to: Path) -> Path:
        if "-partial-" in path.name:
            raise OSError(errno.EIO, "Input/output error")
        return real(path, to)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(StorageError):
        write_folder(files_of(archived_record(archive, recorded)), target)
    assert {path.name: path.read_bytes() for path in target.iterdir()} == before
    assert [path.name for path in target.parent.iterdir()] == [recorded]


def test_a_file_is_replaced_whole_or_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "coupon.svg"
    write_file(target, b"old")
    write_file(target, b"new")
    assert target.read_bytes() == b"new"

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(whole_writing.os, "fsync", full)
    with pytest.raises(DiskFullError):
        write_file(target, b"newer")
    assert target.read_bytes() == b"new"
    assert [path.name for path in tmp_path.iterdir()] == ["coupon.svg"]


def test_a_real_full_disk_leaves_nothing_half(record: SessionRecord, tmp_path: Path) -> None:
    """The kernel's own file size limit, set to fail inside each file in turn."""
    files = files_of(record)
    sizes = sorted({len(content) for content in files.values()})
    had = resource.getrlimit(resource.RLIMIT_FSIZE)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    target = tmp_path / "stick" / record.id
    target.parent.mkdir()
    for size in sizes:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size - 1, had[1]))
        try:
            with pytest.raises(DiskFullError):
                write_folder(files, target)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, had)
        assert list(target.parent.iterdir()) == []


def test_an_import_is_taken_over_once(
    record: SessionRecord, tmp_path: Path, clock: Callable[[], datetime], archive: Archive
) -> None:
    folder = tmp_path / record.id
    write_folder(files_of(record), folder)
    other = Archive.open(tmp_path / "other.sqlite", clock)
    assert import_folder(folder, other).new
    assert not import_folder(folder, other).new
    assert other.events(record.id) == archive.events(record.id)
    again = files_of(archived_record(other, record.id))
    other.close()
    assert again == files_of(record)


@pytest.mark.parametrize(
    ("name", "spoil", "said"),
    [
        (
            "session.json",
            lambda path: path.write_bytes(path.read_bytes().replace(b"119.9", b"120.9", 1)),
            "session.json",
        ),
        ("readings.csv", Path.unlink, "readings.csv"),
        ("SHA256SUMS", Path.unlink, "no complete download"),
        ("SHA256SUMS", lambda path: path.write_text(""), "no complete download"),
        ("SHA256SUMS", lambda path: path.write_text(f"{'0' * 64}  ../x\n"), "no file of this folder"),
    ],
)
def test_a_folder_that_was_changed_is_refused(
    record: SessionRecord, tmp_path: Path, archive: Archive, name: str, spoil: Callable[[Path], object], said: str
) -> None:
    folder = tmp_path / record.id
    write_folder(files_of(record), folder)
    spoil(folder / name)
    with pytest.raises(BadInputError, match=said):
        import_folder(folder, archive)


def test_a_file_that_is_no_session_is_refused(tmp_path: Path, archive: Archive) -> None:
    for text in ("[]", "{", '{"format":"cornerwise session","version":9,"session":"x","events":[]}'):
        content = text.encode()
        (tmp_path / "session.json").write_bytes(content)
        (tmp_path / "SHA256SUMS").write_text(f"{hashlib.sha256(content).hexdigest()}  session.json\n")
        with pytest.raises(BadInputError):
            import_folder(tmp_path, archive)


def test_a_session_without_readings_has_nothing_to_report(archive: Archive, opened: Opened) -> None:
    session_id = archive.begin(opened)
    with pytest.raises(BadInputError, match="nothing to report"):
        archived_record(archive, session_id)
    with pytest.raises(BadInputError, match="no session"):
        archived_record(archive, "20260101-000000-00000000")


def test_the_coupon_before_stands_in_the_report(archive: Archive, recorded: str, opened: Opened) -> None:
    events = archive.events(recorded)
    empty = archive.begin(opened)  # closed without a reading: nothing to compare with
    archive.append(
        empty, Closed(verdict="undecided", size_verdict="undecided", skew_deg=None, skew_u95_deg=None, software="x")
    )
    session_id = archive.begin(opened)
    for event in events[1:]:
        archive.append(session_id, event.payload)
    record = reported_record(archive, session_id)
    printed = " ".join(pdf_text(files_of(record)["report.pdf"]).split())
    assert f"Before (2026-03-01, session {recorded}): NO-GO, skew +0.457 ± 0.081°. Now: NO-GO" in printed
    assert record.comparison is not None
    assert str(record.comparison.text).replace("−", "-") in printed


def test_a_session_of_any_name_of_machine_prints(record: SessionRecord) -> None:
    opened = replace(record.session.opened, machine="Fräse „Łódź“ №2", operator="Ωmega Żółć")
    session = Session.from_events([replace(record.session.log[0], payload=opened), *record.session.log[1:]])
    printed = pdf_text(files_of(record_session(record.id, session))["report.pdf"])
    assert "Fräse „Łódź“ №2" in printed
    assert "Ωmega Żółć" in printed


def test_contradictory_readings_show_no_value_of_their_best_fit(record: SessionRecord) -> None:
    """Only the readings and what may be wrong with them mean anything; no shape is drawn from them either."""
    log = list(record.session.log)
    place = next(n for n, event in enumerate(log) if event.sequence == 7)
    log[place] = replace(log[place], payload=ReadingAccepted(reading=Reading(feature=Feature.NR_FL, value=147.85)))
    contradictory = record_session(record.id, Session.from_events(log))
    assert contradictory.evaluation.verdict == "inconsistent"
    files = files_of(contradictory)
    printed = pdf_text(files["report.pdf"])
    assert "INCONSISTENT" in printed
    assert "1. " in printed
    assert "perpendicularity" not in printed
    assert b"nominal shape only" in files["shape.svg"]
    assert files["shape.svg"].count(b"<polyline") == 2


@pytest.mark.parametrize("reason", ["Left of 3 mm edge. No", "slipped. No, Left of 3 mm edge"])
def test_a_reason_is_printed_letter_for_letter(record: SessionRecord, reason: str) -> None:
    session = record.session
    readings = (*session.readings[:-1], replace(session.readings[-1], voided=reason))
    page = pdf_text(files_of(record_session(record.id, replace(session, readings=readings)))["report.pdf"])
    assert f"{reason})" in page.replace("\n", " ")

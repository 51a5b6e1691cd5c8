"""What the papers call a coupon: given while it is measured or long after, kept letter for letter, on every report."""

from __future__ import annotations

import io
from pathlib import Path

import pypdf

from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.events import Labelled
from core.records.export import files_of
from core.records.session import Session
from core.records.session_json import parse_session, session_text
from core.said import worded
from tests.ui.bench.test_seen_again import measured, restarted
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.measuring import LabelCoupon, SeeCoupon
from ui.bench.desks.records import look_up_history
from ui.pages.history import session_rows
from ui.pages.label import LONGEST, LabelField, labelling
from ui.speech.language import Language
from ui.speech.notation import LengthUnit, Notation
from ui.state.settings import Settings, SettingsFile
from ui.state.snapshot import Snapshot
from ui.terminal.commands import parse_line

# Words that a catalogue knows and a length that inches would change: as given, they are nobody's business.
GIVEN = {
    LabelField.ORDER: "Left 3 mm",
    LabelField.CUSTOMER: "Machine & Sons",
    LabelField.OPERATOR: "Note",
    LabelField.SHOP: "Coupon 12 mm",
    LabelField.CALIPER: "Near 7, 2026-10-01",
    LabelField.GAUGE: "G 0.5 mm",
    LabelField.NOTE: "slipped. No, Left of 3 mm edge",
}


def label(under_test: BenchUnderTest, given: dict[LabelField, str]) -> Snapshot:
    for field, value in given.items():
        under_test.bench.send(labelling(under_test.settled(), field, value))
    return under_test.settled()


def test_a_finished_coupon_is_labelled_after_a_restart_and_its_report_says_so(tmp_path: Path) -> None:
    with running_bench(tmp_path) as before:
        finished = measured(before)
    assert finished.session is not None
    with running_bench(tmp_path) as after:
        restarted(after)
        after.bench.send(SeeCoupon(session=finished.session))
        seen = label(after, GIVEN)
    assert seen.note == GIVEN[LabelField.NOTE]
    archive = Archive.open(tmp_path / "archive.sqlite", lambda: None)
    try:
        record = reported_record(archive, finished.session)
    finally:
        archive.close()
    voice = Settings(language=Language.GERMAN, notation=Notation(lengths=LengthUnit.INCH)).speech.on_paper
    for spoken in (voice, None):
        pdf = (files_of(record, spoken) if spoken else files_of(record))["report.pdf"]
        text = " ".join(pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text().split())
        for value in GIVEN.values():
            assert value in text, (value, text)


def test_the_label_travels_with_the_session(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        session = measured(under_test).session
        label(under_test, GIVEN)
    assert session is not None
    archive = Archive.open(tmp_path / "archive.sqlite", lambda: None)
    try:
        _, events = parse_session(session_text(reported_record(archive, session)))
    finally:
        archive.close()
    read = Session.from_events(events)
    assert read.label == Labelled(**{field.value: GIVEN[field] for field in LabelField if field != LabelField.NOTE})
    assert read.note == GIVEN[LabelField.NOTE]


def test_who_measures_and_whose_shop_it_is_stay_for_the_next_coupon(tmp_path: Path) -> None:
    file = SettingsFile(tmp_path)
    with running_bench(tmp_path, settings_file=file) as under_test:
        measured(under_test)
        label(under_test, GIVEN)
        under_test.open()
        begun = under_test.settled()
    kept = (LabelField.OPERATOR, LabelField.SHOP, LabelField.CALIPER, LabelField.GAUGE)
    assert begun.label == Labelled(**{field.value: GIVEN[field] for field in kept})
    assert [getattr(file.load(), field.value) for field in kept] == [GIVEN[field] for field in kept]


def test_without_a_coupon_there_is_nothing_to_label(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.bench.send(LabelCoupon(label=Labelled(order="B 17")))
        told = under_test.settled()
    assert told.message is not None
    assert told.message.alarm
    assert told.label == Labelled()


def test_the_same_label_twice_is_stored_once(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        measured(under_test)
        once = label(under_test, GIVEN)
        twice = label(under_test, GIVEN)
    assert len(twice.log) == len(once.log)


def test_it_is_typed_at_the_text_bench(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.open()
        snapshot = under_test.settled()
        assert parse_line("label order B   17", snapshot) == LabelCoupon(label=Labelled(order="B 17"))
        assert parse_line("note cut after the belt change", snapshot) == LabelCoupon(
            label=Labelled(), note="cut after the belt change"
        )
        told = label(under_test, {LabelField.ORDER: "B 17"})
        assert "B 17" in str(parse_line("label", told))
        assert "label order" in str(parse_line("label colour red", told))


def test_nothing_longer_than_the_paper_is_kept(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.open()
        command = labelling(under_test.settled(), LabelField.CUSTOMER, "a" * 500)
    assert len(command.label.customer) == LONGEST


def test_the_history_names_a_coupon_by_what_it_was_called_last(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        measured(under_test)
        for order in ("B 17", "B 18 for a cupboard with twelve doors"):
            label(under_test, {LabelField.ORDER: order})
        under_test.bench.send(look_up_history(machine=""))
        told = under_test.settled()
    (row,) = session_rows(told)
    assert worded(row.title).startswith("B 18 for a cupboa…\n")

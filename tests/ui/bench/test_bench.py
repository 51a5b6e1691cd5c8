"""The bench controller on a real archive: from indications and commands to readings that count, and a verdict."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.features import Feature
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.gauge_check import CheckedLength
from core.metrology.live import LiveState
from core.metrology.readings import Quantity, Unit
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import Verdict
from core.records.archive import Archive
from core.records.events import Opened
from core.said import Name
from firmware_bridge.byte_link import LinkChanged, LinkState
from firmware_bridge.instrument_settings import Capture, InstrumentSettings, Sends
from tests.ui.bench_bits import COUPON, SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.capture import MEANT_INCHES, TAKE_THERE, WHICH_FEATURE
from ui.bench.desks.live import TakeReading
from ui.bench.desks.machines import SaveMachine
from ui.bench.desks.measuring import (
    AnswerQuestion,
    CloseSession,
    ConfirmMark,
    HoldReadings,
    OpenSession,
    ResumeSession,
    SelectFeature,
    TypeReading,
    VoidReading,
)
from ui.bench.gauge_checks import CheckCaliper

GAUGE = InstrumentSettings(name="gauge", port="/dev/null", format_name="angle-x", quantity=Quantity.ANGLE)


@pytest.fixture
def under_test(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path, (GAUGE,)) as running:
        yield running


def test_a_button_press_becomes_a_reading_only_when_the_archive_has_it(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.indicate(143.62, pressed=True)
    on_its_way = under_test.pump()
    assert on_its_way.readings == () or on_its_way.pending is None
    stored = under_test.stored() if not on_its_way.readings else on_its_way
    assert [item.reading.value for item in stored.readings] == [143.62]
    assert stored.readings[0].reading.feature is Feature.NL_FR
    assert stored.next_length is Feature.NR_FL


def test_a_whole_coupon_leads_to_the_verdict_and_is_in_the_archive(under_test: BenchUnderTest, tmp_path: Path) -> None:
    under_test.open()
    under_test.bench.send(ConfirmMark())
    under_test.stored()
    for feature, value in SKEWED.items():
        under_test.bench.send(SelectFeature(feature=feature))
        under_test.indicate(value, instrument=quantity_name(feature), pressed=True)
        snapshot = under_test.stored()
    assert snapshot.verdict is Verdict.NO_GO
    under_test.bench.send(CloseSession())
    snapshot = under_test.stored()
    assert snapshot.closed
    reopened = Archive.open(tmp_path / "archive.sqlite", lambda: None)
    try:
        (summary,) = reopened.sessions()
    finally:
        reopened.close()
    assert summary.verdict == "no-go"


def test_a_steady_gauge_is_taken_once_from_one_hold(under_test: BenchUnderTest) -> None:
    under_test.open()
    for _ in range(30):
        under_test.indicate(90.4, instrument="gauge")
    assert [item.reading.feature for item in under_test.stored().readings] == [Feature.NL]
    for _ in range(30):
        under_test.indicate(90.4, instrument="gauge")
        under_test.pump()
    assert len(under_test.pump().readings) == 1


def test_while_the_instruments_are_checked_nothing_on_the_cables_is_a_reading(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.bench.send(HoldReadings(held=True))
    under_test.indicate(76.2, pressed=True)
    for _ in range(30):
        under_test.indicate(90.1, instrument="gauge")
    assert under_test.pump().readings == ()
    lengths = (CheckedLength(nominal_mm=0.0, readings_mm=(0.01, 0.01)),)
    under_test.bench.send(CheckCaliper(lengths=lengths))
    assert under_test.stored().setup.caliper.zero_sd < 0.01
    under_test.bench.send(HoldReadings(held=False))
    under_test.indicate(143.62, pressed=True)
    assert [item.reading.value for item in under_test.stored().readings] == [143.62]


def test_a_diagonal_given_for_an_edge_is_questioned_and_goes_where_the_person_says(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.bench.send(SelectFeature(feature=Feature.NEAR))
    under_test.indicate(144.2, pressed=True)
    asked = under_test.pump()
    assert asked.readings == ()
    assert asked.question is not None
    assert asked.question.name == WHICH_FEATURE
    under_test.bench.send(AnswerQuestion(question=WHICH_FEATURE, answer=TAKE_THERE))
    under_test.stored()
    (taken,) = under_test.stored().readings
    assert taken.reading.feature in (Feature.NL_FR, Feature.NR_FL)


def test_inches_are_offered_and_converted(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.bench.send(TypeReading(feature=Feature.NEAR, shown=4.72, unit=Unit.MM))
    asked = under_test.pump()
    assert asked.question is not None
    assert asked.question.name == MEANT_INCHES
    under_test.bench.send(AnswerQuestion(question=MEANT_INCHES, answer="convert"))
    under_test.stored()
    (taken,) = under_test.stored().readings
    assert taken.reading.value == pytest.approx(119.888)


def test_an_impossible_value_is_refused_with_the_reason(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.bench.send(SelectFeature(feature=Feature.NEAR))
    under_test.indicate(61.0, pressed=True)
    refused = under_test.pump()
    assert refused.readings == ()
    assert refused.message is not None
    assert "cannot be the near edge" in str(refused.message.text)


def test_a_voided_reading_stays_with_its_reason_and_its_feature_is_asked_for_again(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.indicate(143.62, pressed=True)
    (taken,) = under_test.stored().readings
    under_test.bench.send(VoidReading(number=taken.number, reason="jaw slipped"))
    voided = under_test.stored()
    assert [item.voided for item in voided.readings] == ["jaw slipped"]
    assert voided.next_length is Feature.NL_FR
    assert voided.evaluation is None


def test_a_touch_without_a_live_value_says_so(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.bench.send(TakeReading(quantity=Quantity.LENGTH))
    told = under_test.pump()
    assert told.message is not None
    assert "nothing was taken" in str(told.message.text)


def test_a_stale_value_is_greyed_and_cannot_be_taken(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.indicate(143.9)
    assert under_test.pump().live_length.state is not LiveState.STALE
    under_test.now_s += 5.0
    assert under_test.pump().live_length.state is LiveState.STALE
    under_test.bench.send(TakeReading(quantity=Quantity.LENGTH))
    told = under_test.pump()
    assert told.message is not None
    assert "nothing was taken" in str(told.message.text)


def test_a_pulled_cable_takes_the_live_value_away_and_leaves_the_readings(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.indicate(143.62, pressed=True)
    under_test.stored()
    under_test.bench.post(LinkChanged(instrument="caliper", state=LinkState.LOST, text=Name("cable pulled")))
    lost = under_test.pump()
    assert lost.live_length.state is LiveState.ABSENT
    assert len(lost.readings) == 1


def test_after_a_stop_the_bench_goes_on_where_it_was(tmp_path: Path) -> None:
    with running_bench(tmp_path) as before:
        before.open()
        before.indicate(143.62, pressed=True)
        left = before.stored()
    with running_bench(tmp_path) as after:
        after.bench.send(ResumeSession())
        resumed = after.stored()
    assert resumed.readings == left.readings
    assert resumed.session == left.session


def test_nothing_new_leaves_the_same_snapshot(under_test: BenchUnderTest) -> None:
    under_test.open()
    first = under_test.pump()
    under_test.now_s += 10.0
    assert under_test.pump() is first
    assert replace(first, revision=0) != first


def test_typing_an_edge_without_a_session_is_answered_not_lost(under_test: BenchUnderTest) -> None:
    under_test.bench.send(TypeReading(feature=Feature.NEAR, shown=119.9, unit=Unit.MM))
    told = under_test.pump()
    assert told.message is not None
    assert "begins with a diagonal" in str(told.message.text)


def asked_after_the_diagonals(running: BenchUnderTest) -> Feature:
    running.open()
    for feature in (Feature.NL_FR, Feature.NR_FL) * 2:
        running.indicate(SKEWED[feature], pressed=True)
        evaluation = running.stored().evaluation
    assert evaluation is not None
    assert evaluation.next_reading is not None
    return evaluation.next_reading.feature


def test_corners_are_asked_for_only_where_there_is_an_angle_gauge(under_test: BenchUnderTest, tmp_path: Path) -> None:
    assert asked_after_the_diagonals(under_test) is Feature.NL
    with running_bench(tmp_path / "calipers alone") as calipers_alone:
        assert asked_after_the_diagonals(calipers_alone) is Feature.NEAR


def test_an_instrument_is_put_on_record_when_first_used_and_its_check_goes_by_its_name(tmp_path: Path) -> None:
    settings = InstrumentSettings(
        name="long caliper",
        port="/dev/x",
        format_name="length-3.3",
        quantity=Quantity.LENGTH,
        sends=Sends.BUTTON,
        capture=Capture.DATA_BUTTON,
    )
    with running_bench(tmp_path, (settings,)) as bench:
        assert bench.open().book.used == ()
        for value in (143.62, 144.43):
            bench.indicate(value, instrument="long caliper", pressed=True)
            (used,) = bench.stored().book.used
        assert (used.name, used.wire_format, used.port_kind) == ("long caliper", str(settings.speaks), "serial line")
        for jaws_mm in (-0.02, 0.02):
            lengths = (CheckedLength(nominal_mm=0.0, readings_mm=(jaws_mm,) * 4),)
            bench.bench.send(CheckCaliper(lengths=lengths))
            after = bench.stored()
        assert after.message is not None
        assert after.message.alarm
        assert "Its zero moved by +0.040" in str(after.message.text)
        (history,) = bench.open().book.checks
        assert str(history.last) is not None
        assert (history.instrument, history.last.sessions_ago) == ("long caliper", 1)


def test_what_types_into_the_window_has_no_cable_to_lose(under_test: BenchUnderTest) -> None:
    under_test.open()
    under_test.indicate(143.62, instrument="typing instrument", pressed=True)
    (status,) = [one for one in under_test.pump().instruments if one.name == "typing instrument"]
    assert (status.state, str(status.last)) == (LinkState.UP, "143.62 mm")


def test_a_machine_described_at_a_finished_coupon_without_one_is_its_own(
    under_test: BenchUnderTest,
) -> None:
    """Finished first, described then: nothing else would ever lead from this coupon to its correction."""
    bench = under_test.bench
    coupon = Opened(coupon=COUPON, limits=limits_for_class(COUPON, "mK"), setup=MeasuringSetup())
    bench.send(OpenSession(opened=coupon))
    under_test.stored()
    for feature, value in SKEWED.items():
        bench.send(TypeReading(feature=feature, shown=value, unit=Unit.MM if feature.is_length else Unit.DEG))
        under_test.stored()
    bench.send(CloseSession())
    assert under_test.stored().machines.correction is None
    bench.send(SaveMachine(profile=MachineProfile(name="router", span_mm=640.0)))
    while not (snapshot := under_test.stored()).machine:
        pass  # the archive looks other things up as well; an answer that never comes ends the wait
    assert (snapshot.machine, snapshot.span_mm) == ("router", 640.0)
    assert snapshot.machines.correction is not None

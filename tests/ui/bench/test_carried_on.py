"""The bench carries the person's hand and today's zero from coupon to coupon, and says so among the instruments."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.gauge_check import CheckedLength
from core.metrology.readings import Quantity
from core.records.session import InstrumentChange
from firmware_bridge.byte_link import LinkState
from firmware_bridge.instrument_settings import Capture, InstrumentSettings, Sends
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.measuring import AnswerQuestion, CloseSession, SelectFeature
from ui.bench.gauge_checks import AskWhatHappened, CheckCaliper
from ui.bench.workers.cables import InstrumentJoined, InstrumentLeft
from ui.pages.instruments import hand_line, instrument_cards
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.state.snapshot import InstrumentStatus, Snapshot

JAWS = CheckCaliper(lengths=(CheckedLength(nominal_mm=0.0, readings_mm=(0.01, 0.01)),))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path, ()) as running:
        yield running


def begin(bench: BenchUnderTest) -> Snapshot:
    bench.settled()
    bench.open()
    return bench.settled()


def measure(bench: BenchUnderTest, *values_mm: float) -> None:
    for value_mm in values_mm:
        bench.bench.send(SelectFeature(feature=Feature.NL_FR))
        bench.indicate(value_mm, pressed=True)
        bench.settled()


def test_a_zero_lost_between_two_coupons_is_lost_for_the_next(bench: BenchUnderTest) -> None:
    """It fell while no coupon was open: the button was there, and answered that there is no coupon."""
    begin(bench)
    bench.bench.send(JAWS)
    bench.settled()
    measure(bench, 143.60)
    finish(bench)
    assert begin(bench).setup.caliper.zero > 0.0
    finish(bench)
    bench.bench.send(AskWhatHappened(quantity=Quantity.LENGTH))
    question = bench.settled().question
    assert question is not None
    bench.bench.send(AnswerQuestion(question=question.name, answer=InstrumentChange.DROPPED))
    told = bench.settled()
    assert told.question is None
    assert "not known any more" in str(told.message.text if told.message else "")
    finished = told.evaluation
    assert finished is None or told.closed, "the coupon that is finished was measured before"
    assert begin(bench).setup.caliper.zero == 0.0


def test_before_the_first_coupon_there_is_no_zero_to_lose(bench: BenchUnderTest) -> None:
    bench.settled()
    bench.bench.send(AskWhatHappened(quantity=Quantity.LENGTH))
    question = bench.settled().question
    assert question is not None
    bench.bench.send(AnswerQuestion(question=question.name, answer=InstrumentChange.ANOTHER))
    assert bench.settled().question is None


BY_ID = "/dev/serial/by-id/usb-plug_{}-if00-port0"


def caliper_on(serial: str) -> InstrumentSettings:
    return InstrumentSettings(
        name="caliper",
        port=BY_ID.format(serial),
        format_name="length-3.3",
        quantity=Quantity.LENGTH,
        sends=Sends.BUTTON,
        capture=Capture.DATA_BUTTON,
    )


def test_another_plug_under_the_same_name_ends_the_zero(bench: BenchUnderTest) -> None:
    bench.bench.post(InstrumentJoined(settings=caliper_on("A1")))
    begin(bench)
    bench.bench.send(replace(JAWS, instrument="caliper"))
    bench.settled()
    measure(bench, 143.60)
    assert bench.settled().setup.caliper.zero_sd < MeasuringSetup().caliper.zero_sd
    bench.bench.post(InstrumentLeft(port=BY_ID.format("A1")))
    bench.bench.post(InstrumentJoined(settings=caliper_on("B2")))
    measure(bench, 143.60)
    after = bench.settled()
    assert after.setup.caliper == MeasuringSetup().caliper
    assert len(after.readings) == 2, "the reading counts: only the zero is not known"
    finish(bench)
    assert begin(bench).setup.caliper == MeasuringSetup().caliper


def test_the_same_plug_the_next_morning_keeps_it_and_another_does_not(bench: BenchUnderTest) -> None:
    bench.bench.post(InstrumentJoined(settings=caliper_on("A1")))
    begin(bench)
    bench.bench.send(replace(JAWS, instrument="caliper"))
    bench.settled()
    finish(bench)
    assert begin(bench).setup.caliper != MeasuringSetup().caliper
    finish(bench)
    bench.bench.post(InstrumentLeft(port=BY_ID.format("A1")))
    bench.bench.post(InstrumentJoined(settings=caliper_on("B2")))
    assert begin(bench).setup.caliper == MeasuringSetup().caliper


def finish(bench: BenchUnderTest) -> None:
    bench.bench.send(CloseSession())
    bench.settled()


def test_the_next_coupon_knows_the_hand_and_says_it(bench: BenchUnderTest) -> None:
    snapshot = begin(bench)
    assert hand_line("caliper", snapshot) == hand_line("no such", snapshot)
    assert not snapshot.setup.hands
    measure(bench, 143.60, 143.68, 143.62)
    finish(bench)
    snapshot = begin(bench)
    (hand,) = snapshot.setup.hands
    assert (hand.quantity, hand.nu) == (Quantity.LENGTH, 2)
    # Root of half of (0.033² + 0.047² + 0.013²), by hand.
    line = hand_line(hand.instrument, snapshot)
    assert Settings().speech.say(line) == "your hand 0.04 mm, set 0.02 mm"
    assert Settings(language=Language.GERMAN).speech.say(line).startswith("Ihre Hand 0")


def test_todays_zero_serves_the_next_coupon_until_the_caliper_fell(bench: BenchUnderTest) -> None:
    begin(bench)
    bench.bench.send(JAWS)
    checked = bench.settled().setup.caliper
    finish(bench)
    assert begin(bench).setup.caliper == checked
    bench.bench.send(AskWhatHappened(quantity=Quantity.LENGTH))
    question = bench.settled().question
    assert question is not None
    bench.bench.send(AnswerQuestion(question=question.name, answer=InstrumentChange.DROPPED))
    after = bench.settled()
    assert (after.setup.caliper.zero, after.question) == (0.0, None)
    finish(bench)
    assert begin(bench).setup.caliper.zero == 0.0


def test_nothing_happened_leaves_the_zero(bench: BenchUnderTest) -> None:
    begin(bench)
    bench.bench.send(JAWS)
    checked = bench.settled().setup.caliper
    bench.bench.send(AskWhatHappened(quantity=Quantity.LENGTH))
    question = bench.settled().question
    assert question is not None
    bench.bench.send(AnswerQuestion(question=question.name, answer="nothing"))
    after = bench.settled()
    assert (after.question, after.setup.caliper) == (None, checked)


def test_a_checked_instrument_offers_to_say_what_happened_to_it(bench: BenchUnderTest) -> None:
    begin(bench)
    bench.bench.send(JAWS)
    snapshot = bench.settled()
    status = InstrumentStatus(
        name=snapshot.book.checks[0].instrument,
        state=LinkState.UP,
        text="length",
        indications=1,
        faults=0,
        last_fault="",
        quantity=Quantity.LENGTH,
    )
    known = replace(snapshot, instruments=(status,))
    (card,) = instrument_cards(known)
    assert AskWhatHappened(quantity=Quantity.LENGTH) in [button.command for button in card.buttons]
    (finished,) = instrument_cards(replace(known, closed=True))
    assert AskWhatHappened(quantity=Quantity.LENGTH) not in [button.command for button in finished.buttons]

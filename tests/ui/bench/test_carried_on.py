"""The bench carries the person's hand and today's zero from coupon to coupon, and says so among the instruments."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from core.geometry.features import Feature
from core.metrology.gauge_check import CheckedLength
from core.metrology.readings import Quantity
from core.records.session import InstrumentChange
from firmware_bridge.byte_link import LinkState
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.measuring import AnswerQuestion, CloseSession, SelectFeature
from ui.bench.gauge_checks import AskWhatHappened, CheckCaliper
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

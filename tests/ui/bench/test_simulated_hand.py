"""The person takes over from the simulated hand: it seats the jaws at the cursor, the person takes the reading."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.kerf import SizeCause
from core.metrology.readings import Quantity
from core.records.events import Event, Note
from tests.patience import WAIT_S
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.bench.bench import Bench
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, OpenSession, SelectFeature
from ui.bench.desks.practice import StopHand
from ui.bench.opening import opening
from ui.bench.simulated_hand import HandOnTheBench
from ui.start import DEFAULT_SCENARIO, BenchOptions, assembled
from ui.state.snapshot import Snapshot


def until(bench: Bench, woken: threading.Event, so: Callable[[Snapshot], bool]) -> Snapshot:
    end_s = time.monotonic() + WAIT_S
    while time.monotonic() < end_s:
        snapshot = bench.pump()
        if so(snapshot):
            return snapshot
        woken.wait(0.05)
        woken.clear()
    pytest.fail(f"never so: {bench.snapshot.message}, {bench.snapshot.readings}")


def seated(value: float) -> Callable[[Snapshot], bool]:
    def so(snapshot: Snapshot) -> bool:
        live = snapshot.live_length.value
        return live is not None and abs(live - value) < 0.2

    return so


def test_another_coupon_is_cut_and_its_window_measured_too(tmp_path: Path) -> None:
    """The undersized machine: 0.9 mm more is cut than was allowed for, outside and in the window; scales are right."""
    woken = threading.Event()
    coupon = Coupon(width_mm=150.0, height_mm=100.0, window_width_mm=70.0, window_height_mm=50.0)
    with assembled(BenchOptions(folder=tmp_path, scenario="undersized", speed=30.0)) as bench:
        bench.subscribe(woken.set)
        until(bench, woken, lambda snapshot: snapshot.session is not None and bool(snapshot.readings))
        first = bench.snapshot.session
        bench.send(OpenSession(opened=opening(coupon)))
        snapshot = until(bench, woken, lambda snapshot: snapshot.session != first and snapshot.closed)
    read = {item.reading.feature: item.reading.value for item in snapshot.readings}
    assert read[Feature.NEAR] == pytest.approx(149.1, abs=0.15)
    assert read[Feature.WINDOW_WIDTH] == pytest.approx(70.9, abs=0.15)
    assert read[Feature.WINDOW_HEIGHT] == pytest.approx(50.9, abs=0.15)
    finding = snapshot.evaluation.size_finding
    assert finding.cause is SizeCause.SEPARATED
    assert abs(finding.kerf_mm.value - 0.9) < 2.0 * finding.kerf_mm.U95
    assert abs(finding.scale_x.value) < 2.0 * finding.scale_x.U95


def test_the_person_takes_over_by_touch(tmp_path: Path) -> None:
    woken = threading.Event()
    with assembled(BenchOptions(folder=tmp_path, scenario=DEFAULT_SCENARIO, speed=5.0)) as bench:
        bench.subscribe(woken.set)
        until(bench, woken, lambda snapshot: snapshot.session is not None and snapshot.mark_confirmed)
        bench.send(StopHand())
        before = len(until(bench, woken, lambda snapshot: snapshot.pending is None).readings)
        for feature, value in ((Feature.NEAR, 120.0), (Feature.LEFT, 80.0)):
            bench.send(SelectFeature(feature=feature))
            until(bench, woken, seated(value))
            count = len(bench.snapshot.readings)
            assert count - before in (0, 1)
            bench.send(TakeReading(quantity=Quantity.LENGTH))
            snapshot = until(bench, woken, lambda snapshot, count=count: len(snapshot.readings) > count)
            assert snapshot.readings[-1].reading.feature is feature
            assert snapshot.readings[-1].reading.value == pytest.approx(value, abs=0.2)
        assert str(snapshot.hand) == ""
        bench.send(SelectFeature(feature=Feature.FR))
        snapshot = until(bench, woken, lambda snapshot: snapshot.readings[-1].reading.feature is Feature.FR)
        assert snapshot.readings[-1].reading.value == pytest.approx(90.5, abs=0.6)
        assert not snapshot.closed


def test_the_same_question_is_answered_again_when_it_comes_again() -> None:
    bench = StandInBench(SCENES["question"]())
    hand = HandOnTheBench(lambda _coupon: None)
    hand.watch(bench)
    for _ in range(3):
        hand.ask()
    assert [type(command) for command in bench.sent] == [AnswerQuestion]
    answered = Event(sequence=9, time_utc=None, payload=Note(text="the question was answered"))
    bench.publish(replace(bench.snapshot, log=(*bench.snapshot.log, answered)))
    hand.ask()
    assert [type(command) for command in bench.sent] == [AnswerQuestion, AnswerQuestion]

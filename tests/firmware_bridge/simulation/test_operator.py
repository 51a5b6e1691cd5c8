"""The simulated hand and its virtual instruments, decoded by the ordinary decoders, on simulated time alone."""

from __future__ import annotations

import random
from collections.abc import Iterable
from itertools import pairwise

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, TEN_FEATURES, Feature
from core.metrology.readings import Indication
from core.said import NOTHING
from firmware_bridge.decoders.fault import Decoder
from firmware_bridge.instrument_settings import HoldSettings
from firmware_bridge.simulation.gantry import CutCoupon, Gantry
from firmware_bridge.simulation.instruments import InstrumentErrors, VirtualCaliper, VirtualGauge
from firmware_bridge.simulation.operator import SimulatedHand, Wanted
from firmware_bridge.steady_hold import SteadyHold
from firmware_bridge.wire_formats import DecoderOptions, wire_format

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
TICK_S = 0.01


def decoder(name: str) -> Decoder:
    return wire_format(name).make_decoder(DecoderOptions())


class PlainBench:
    """The least bench there is: a list of features, button presses and steady holds taken for the one that is up."""

    def __init__(self, features: Iterable[Feature], turns_over: bool = False) -> None:
        self.todo = list(features)
        self.taken: list[tuple[Feature, float]] = []
        self.live: list[float] = []
        self.piece: CutCoupon = Gantry().cut(COUPON, random.Random(3))
        self.now_s = 0.0
        self._caliper_decoder, self._gauge_decoder = decoder("length-3.3"), decoder("angle-x")
        self._hold = SteadyHold(HoldSettings(time_s=1.0, band=0.15))
        self.caliper = VirtualCaliper(
            InstrumentErrors(resolution=0.01, zero=0.01, seating_sd=0.01, flicker_sd=0.002), self._from_caliper, 5
        )
        self.gauge = VirtualGauge(
            InstrumentErrors(resolution=0.1, zero=0.1, seating_sd=0.05, flicker_sd=0.01), self._from_gauge, 5
        )
        self.hand = SimulatedHand(
            piece=self.piece,
            caliper=self.caliper,
            gauge=self.gauge,
            ask=self.ask,
            seed=5,
            turns_over_for_corners=turns_over,
        )

    def ask(self) -> Wanted | None:
        return Wanted(feature=self.todo[0], on_record=len(self.taken)) if self.todo else None

    def _from_caliper(self, data: bytes) -> None:
        for item in self._caliper_decoder.feed(data):
            assert isinstance(item, Indication)
            self._take(item.value)

    def _from_gauge(self, data: bytes) -> None:
        for item in self._gauge_decoder.feed(data):
            assert isinstance(item, Indication)
            self.live.append(item.value)
            up = (85.0, 95.0) if self.todo and not self.todo[0].is_length else (1.0, 0.0)
            if self._hold.feed(item.value, self.now_s, up).take:
                self._take(item.value)

    def _take(self, value: float) -> None:
        self.taken.append((self.todo.pop(0), value))

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds / TICK_S)):
            self.now_s += TICK_S
            self.hand.step(self.now_s)
            self.gauge.tick(self.now_s)


def test_the_hand_measures_the_whole_coupon_in_under_a_minute() -> None:
    bench = PlainBench(TEN_FEATURES)
    bench.run(60.0)
    assert [feature for feature, _ in bench.taken] == list(TEN_FEATURES)
    for feature, value in bench.taken:
        near_enough = 0.06 if feature.is_length else 0.35
        assert value == pytest.approx(bench.piece.true_value(feature), abs=near_enough)
    assert str(bench.hand.doing) == "nothing left to measure"


def test_the_same_seed_gives_the_same_readings() -> None:
    first, second = PlainBench(TEN_FEATURES), PlainBench(TEN_FEATURES)
    first.run(60.0)
    second.run(60.0)
    assert first.taken == second.taken


def test_a_feature_wanted_twice_is_seated_twice() -> None:
    bench = PlainBench([Feature.NL_FR] * 8)
    bench.run(60.0)
    values = [value for _, value in bench.taken]
    assert len(values) == 8
    assert len(set(values)) > 1


def test_the_gauge_streams_ten_a_second_whatever_the_hand_does() -> None:
    bench = PlainBench([Feature.NEAR])
    bench.run(10.0)
    assert len(bench.live) == pytest.approx(100, abs=2)
    assert set(bench.live) <= {0.0, 0.1, 0.2}


def test_the_jaws_come_from_wide_open_and_never_pass_the_edge() -> None:
    bench = PlainBench([Feature.NEAR])
    widths = []
    while bench.todo:
        bench.run(TICK_S)
        widths.append(bench.caliper.held)
    assert max(widths) > 130.0
    closing = widths[widths.index(max(widths)) :]
    assert min(closing) == pytest.approx(bench.piece.true_value(Feature.NEAR))


def test_a_stopped_hand_seats_the_jaws_where_they_are_wanted_and_presses_nothing() -> None:
    bench = PlainBench([Feature.NEAR, Feature.LEFT])
    bench.hand.stop()
    bench.run(20.0)
    assert bench.caliper.held == pytest.approx(bench.piece.true_value(Feature.NEAR))
    assert (bench.taken, bench.hand.doing) == ([], NOTHING)
    bench.todo.pop(0)  # the person took it
    bench.run(5.0)
    assert bench.caliper.held == pytest.approx(bench.piece.true_value(Feature.LEFT))
    assert (bench.taken, bench.hand.doing) == ([], NOTHING)


def test_turning_over_between_lengths_and_corners_shows_in_the_corners_only() -> None:
    kept, turned = PlainBench(TEN_FEATURES), PlainBench(TEN_FEATURES, turns_over=True)
    kept.run(60.0)
    turned.run(60.0)
    assert kept.taken[:6] == turned.taken[:6]
    assert dict(kept.taken)[Feature.NL] == pytest.approx(90.35, abs=0.4)
    assert dict(turned.taken)[Feature.NL] == pytest.approx(89.65, abs=0.4)
    assert dict(kept.taken)[DIAGONALS[0]] < dict(kept.taken)[DIAGONALS[1]]


def test_a_reading_that_is_not_accepted_is_seated_anew() -> None:
    bench = PlainBench([Feature.NEAR])
    presses = []
    bench.caliper.press_data_button = lambda: presses.append(bench.now_s)  # type: ignore[method-assign]
    bench.run(20.0)
    assert len(presses) >= 3
    assert min(b - a for a, b in pairwise(presses)) > 2.5

"""Capture at the bench: nothing twice from one hold, the median of a hold, button-only instruments, tilt gauges."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from core.geometry.features import Feature
from core.metrology.readings import Indication, Quantity, Unit
from core.said import Name
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkState
from firmware_bridge.instrument_settings import Capture, GaugeKind, HoldSettings, InstrumentSettings, Sends
from firmware_bridge.wire_formats import DecoderOptions
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import ConfirmMark, SelectFeature
from ui.bench.live import TAKEN_ALREADY_SAYS
from ui.bench.workers.cables import CablePort

HOLD = HoldSettings(time_s=1.0, band=0.15)


def caliper(**changes: object) -> InstrumentSettings:
    common = {
        "name": "caliper",
        "port": "/dev/x",
        "format_name": "length-3.3",
        "quantity": Quantity.LENGTH,
        "capture": Capture.DATA_BUTTON,
        "sends": Sends.ASKED,
        "poll_s": 0.1,
    }
    return InstrumentSettings(**common | changes)  # type: ignore[arg-type]


GAUGE = InstrumentSettings(
    name="gauge",
    port="/dev/y",
    format_name="angle-plain",
    quantity=Quantity.ANGLE,
    hold=HOLD,
    gauge_kind=GaugeKind.TILT,
    options=DecoderOptions(unit=Unit.DEG),
)


@pytest.fixture
def polled(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path, (caliper(), GAUGE)) as under_test:
        under_test.open()
        under_test.bench.send(ConfirmMark())
        under_test.stored()
        yield under_test


def values(under_test: BenchUnderTest) -> list[tuple[Feature, float]]:
    return [(item.reading.feature, item.reading.value) for item in under_test.pump().readings]


def test_pressing_again_without_opening_the_jaws_takes_nothing(polled: BenchUnderTest) -> None:
    """Near and far edge have the same nominal: the second press must not become the far edge."""
    polled.bench.send(SelectFeature(feature=Feature.NEAR))
    polled.indicate(119.85, pressed=True)
    polled.stored()
    polled.bench.send(SelectFeature(feature=Feature.FAR))
    polled.indicate(119.85, pressed=True)
    snapshot = polled.pump()
    assert snapshot.message is not None
    assert snapshot.message.text == TAKEN_ALREADY_SAYS
    polled.bench.send(TakeReading(quantity=Quantity.LENGTH))
    assert polled.pump().message == snapshot.message
    polled.indicate(125.0)
    polled.indicate(119.86, pressed=True)
    polled.stored()
    assert values(polled) == [(Feature.NEAR, 119.85), (Feature.FAR, 119.86)]


def test_what_was_refused_may_be_read_for_another_feature_at_once(polled: BenchUnderTest) -> None:
    polled.bench.send(SelectFeature(feature=Feature.NEAR))
    polled.indicate(10.0, pressed=True)
    assert values(polled) == []
    polled.indicate(10.0, pressed=True)
    message = polled.pump().message
    assert message is not None
    assert "Not taken" in str(message.text)


def test_an_instrument_that_only_sends_on_its_button_may_say_the_same_twice(tmp_path: Path) -> None:
    """Its jaws are not seen moving between presses."""
    with running_bench(tmp_path, (caliper(sends=Sends.BUTTON, poll_s=None),)) as under_test:
        under_test.open()
        for feature in (Feature.NEAR, Feature.FAR):
            under_test.bench.send(SelectFeature(feature=feature))
            under_test.indicate(119.85, pressed=True)
            under_test.stored()
        assert values(under_test) == [(Feature.NEAR, 119.85), (Feature.FAR, 119.85)]


def test_a_steady_hold_takes_its_median(tmp_path: Path) -> None:
    settings = caliper(sends=Sends.STREAM, poll_s=None, capture=Capture.STEADY_HOLD, hold=HOLD)
    with running_bench(tmp_path, (settings,)) as under_test:
        under_test.open()
        under_test.bench.send(SelectFeature(feature=Feature.NEAR))
        for shown in [119.85] * 10 + [119.95]:
            under_test.indicate(shown)
        under_test.stored()
        assert values(under_test) == [(Feature.NEAR, 119.85)]


def test_a_unit_switched_on_the_instrument_is_converted_and_said(polled: BenchUnderTest) -> None:
    polled.indicate(119.85)
    polled.bench.post(
        IndicationArrived(
            instrument="caliper",
            indication=Indication(shown=4.7185, unit=Unit.INCH, decimals=4),
            arrived_s=polled.now_s,
        )
    )
    snapshot = polled.pump()
    assert snapshot.message is not None
    assert str(snapshot.message.text) == "caliper was switched to inch: what it says is converted."
    assert snapshot.live_length.value == pytest.approx(119.85, abs=0.001)
    assert str(snapshot.instruments[0].last) == "4.7185 inch"


def test_a_pedal_asks_a_slow_instrument_that_can_be_asked(tmp_path: Path) -> None:
    asked: list[str] = []

    class Asked(CablePort):
        def request(self, instrument: str) -> None:
            asked.append(instrument)

    with running_bench(tmp_path, (caliper(),)) as under_test:
        under_test.use_cables(Asked())
        under_test.open()
        under_test.bench.send(TakeReading(quantity=Quantity.LENGTH))
        under_test.pump()
        assert asked == []  # its cable is not up
        under_test.bench.post(LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open")))
        under_test.bench.send(TakeReading(quantity=Quantity.LENGTH))
        snapshot = under_test.pump()
        assert asked == ["caliper"]
        assert snapshot.message is not None
        assert "what it answers is taken" in str(snapshot.message.text)


def test_a_tilt_gauges_corner_is_the_difference_of_two_indications(polled: BenchUnderTest) -> None:
    polled.bench.send(SelectFeature(feature=Feature.NL))
    for _ in range(12):
        polled.indicate(-0.3, instrument="gauge")
    snapshot = polled.pump()
    assert snapshot.message is not None
    assert "First edge kept at −0.30" in str(snapshot.message.text)
    assert snapshot.readings == ()
    for tilt_deg in (20.0, 60.0, *[90.1] * 12):
        polled.indicate(tilt_deg, instrument="gauge")
    polled.stored()
    ((feature, value),) = values(polled)
    assert feature is Feature.NL
    assert value == pytest.approx(90.4)


def test_a_tilt_gauges_first_edge_can_be_kept_by_touch(polled: BenchUnderTest) -> None:
    polled.bench.send(SelectFeature(feature=Feature.NL))
    polled.indicate(0.2, instrument="gauge")
    polled.bench.send(TakeReading(quantity=Quantity.ANGLE))
    polled.pump()
    polled.indicate(89.9, instrument="gauge")
    polled.bench.send(TakeReading(quantity=Quantity.ANGLE))
    polled.stored()
    ((feature, value),) = values(polled)
    assert (feature, round(value, 6)) == (Feature.NL, 89.7)

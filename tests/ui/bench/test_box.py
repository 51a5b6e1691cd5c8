"""The lamp box at a real bench with its archive: feet and fingers in, lamps and sounds out, and the watchdog's word."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from core.geometry.features import Feature
from core.metrology.readings import Quantity
from hardware.panel import LAMP_TEST_S, Panel
from hardware.pins import LAMPS, Line
from hardware.watchdog import FRESH_S, Watchdog
from tests.hardware.fake_gpio import FakeGpioPort
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.bench import Bench
from ui.bench.desks.measuring import SelectFeature
from ui.bench.desks.settings import ChangeSettings
from ui.bench.lamp_box import TICK_S, Box
from ui.bench.supervision import IDLE_S, Pulse
from ui.state.settings import Settings
from ui.state.snapshot import Snapshot


class BoxUnderTest:
    """A box at a bench; both live on the bench's own clock."""

    def __init__(self, bench: BenchUnderTest) -> None:
        self.bench = bench
        self.port = FakeGpioPort()
        self.said: list[str] = []
        self.box = Box(Panel(self.port), Watchdog(self.said.append, 7.5), lambda: bench.now_s)
        self.in_hand = Quantity.LENGTH
        self.box.start()

    def loop(self, seconds: float, *, pumping: bool = True) -> Snapshot:
        """The screen's loop for some time."""
        for _ in range(round(seconds / TICK_S)):
            self.bench.now_s += TICK_S
            snapshot = self.bench.pump() if pumping else self.bench.bench.snapshot
            if pumping:
                self.box.bench_answered(workers=True)
            for command in self.box.tick(snapshot, self.in_hand):
                self.bench.bench.send(command)
        return self.bench.pump()

    def press(self, line: Line) -> None:
        self.port.press(line)
        self.loop(0.2)
        self.port.release(line)
        self.loop(0.2)

    def sounds_since(self, begun: int) -> int:
        return [high for line, high in self.port.history[begun:] if line is Line.BUZZER].count(True)


@pytest.fixture
def at_bench(tmp_path: Path) -> Iterator[BoxUnderTest]:
    with running_bench(tmp_path) as bench:
        made = BoxUnderTest(bench)
        made.loop(LAMP_TEST_S + 0.2)
        yield made


def test_after_the_lamp_test_an_empty_bench_is_dark(at_bench: BoxUnderTest) -> None:
    assert {line for line, high in at_bench.port.history if high} == {*LAMPS, Line.BUZZER}
    assert at_bench.port.lit == set()


def test_the_lamp_follows_the_jaws_within_one_tick(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.loop(1.0)
    at_bench.bench.indicate(144.22)  # a square 120 x 80 has 144.222 (Pythagoras)
    at_bench.loop(TICK_S)
    assert at_bench.port.lit == {Line.LAMP_GO}
    at_bench.bench.indicate(143.2)
    at_bench.loop(TICK_S)
    assert at_bench.port.lit == {Line.LAMP_NO_GO}
    at_bench.bench.indicate(60.0)  # jaws on their way
    at_bench.loop(TICK_S)
    assert at_bench.port.lit == set()


def test_the_pedal_takes_the_reading_and_is_answered_by_a_sound(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.bench.indicate(143.62)
    at_bench.loop(0.5)
    before = len(at_bench.port.history)
    at_bench.press(Line.PEDAL)
    snapshot = at_bench.bench.stored() if not at_bench.bench.bench.snapshot.readings else at_bench.bench.pump()
    at_bench.loop(0.5)
    assert [item.reading.value for item in snapshot.readings] == [143.62]
    assert at_bench.sounds_since(before) == 1


def test_the_pedal_with_nothing_connected_is_refused_aloud(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.loop(0.5)
    before = len(at_bench.port.history)
    at_bench.press(Line.PEDAL)
    snapshot = at_bench.loop(1.0)
    assert snapshot.readings == ()
    assert snapshot.message is not None
    assert snapshot.message.alarm
    assert at_bench.sounds_since(before) == 2


def test_without_sound_the_lamps_still_speak(at_bench: BoxUnderTest) -> None:
    at_bench.bench.bench.send(ChangeSettings(settings=Settings(sound=False)))
    at_bench.bench.open()
    at_bench.loop(0.5)
    before = len(at_bench.port.history)
    at_bench.press(Line.PEDAL)
    assert at_bench.loop(1.0).message is not None
    assert at_bench.sounds_since(before) == 0
    at_bench.bench.indicate(143.62)
    at_bench.loop(0.1)
    assert at_bench.port.lit


def test_a_whole_coupon_ends_with_the_verdicts_lamp_and_word(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    for feature, value in (*SKEWED.items(), *SKEWED.items()):
        at_bench.bench.bench.send(SelectFeature(feature=feature))
        at_bench.bench.indicate(value, instrument=quantity_name(feature), pressed=True)
        at_bench.bench.stored()
        before = len(at_bench.port.history)
        at_bench.loop(3.0)
        if at_bench.sounds_since(before) == 3:
            break
    else:
        pytest.fail("no-go was never announced")
    at_bench.bench.now_s += 60.0  # the instruments fall silent
    at_bench.loop(1.0)
    assert at_bench.port.lit == {Line.LAMP_NO_GO}


def test_the_void_button_takes_the_last_reading_out(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.bench.indicate(143.62, pressed=True)
    at_bench.bench.stored()
    at_bench.press(Line.VOID)
    snapshot = at_bench.bench.pump()
    if snapshot.readings[0].voided is None:
        snapshot = at_bench.bench.stored()
    assert snapshot.readings[0].reading.feature is Feature.NL_FR
    assert snapshot.readings[0].voided == "void button"


def test_the_watchdog_is_fed_while_the_bench_answers_and_no_longer(at_bench: BoxUnderTest) -> None:
    assert at_bench.said == ["READY=1", "WATCHDOG=1"]
    at_bench.loop(30.0)
    fed = at_bench.said.count("WATCHDOG=1")
    assert fed == 5
    at_bench.loop(FRESH_S, pumping=False)
    fed = at_bench.said.count("WATCHDOG=1")
    at_bench.loop(30.0, pumping=False)
    assert at_bench.said.count("WATCHDOG=1") == fed


def test_a_broken_box_changes_nothing_at_the_bench(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.port.break_down("pins taken away")
    at_bench.bench.indicate(143.62, pressed=True)
    snapshot = at_bench.bench.stored()
    at_bench.loop(1.0)
    assert len(snapshot.readings) == 1
    assert at_bench.box.fault == "pins taken away"


def test_closing_says_so_and_puts_the_lamps_out(at_bench: BoxUnderTest) -> None:
    at_bench.bench.open()
    at_bench.bench.indicate(144.22)
    at_bench.loop(1.0)
    while not at_bench.port.lit:  # it blinks for the feature under the jaws
        at_bench.loop(0.1)
    assert at_bench.port.lit == {Line.LAMP_GO}
    at_bench.box.close()
    assert at_bench.port.lit == set()
    assert at_bench.said[-1] == "STOPPING=1"


def test_on_a_machine_without_pins_the_box_is_silent_and_says_why() -> None:
    box = Box.of_this_machine({}, lambda: 0.0)
    box.start()
    box.close()
    assert "GPIO" in box.fault


@pytest.mark.parametrize("silent", [None, 0, 1])
def test_the_watchdog_is_fed_only_while_archive_and_cables_get_on(tmp_path: Path, silent: int | None) -> None:
    """A bench with the pulses of its two workers, as the application asks it; one of them falls silent."""
    with running_bench(tmp_path) as under_test:
        made = BoxUnderTest(under_test)
        pulses = tuple(Pulse(lambda: under_test.now_s) for _worker in ("archive", "cables"))
        bench = Bench(archive=under_test.archive, clock_s=lambda: under_test.now_s, pulses=pulses)

        def run(seconds: float) -> int:
            begun = len(made.said)
            for _ in range(round(seconds / TICK_S)):
                under_test.now_s += TICK_S
                for number, pulse in enumerate(pulses):
                    if number != silent:
                        pulse.beat()
                made.box.bench_answered(workers=bench.workers_answer())
                made.box.tick(bench.snapshot, Quantity.LENGTH)
            return made.said[begun:].count("WATCHDOG=1")

        assert run(IDLE_S) >= 1, "nobody has been silent for long yet"
        run(FRESH_S)
        assert (run(60.0) == 0) is (silent is not None)


def test_work_that_gets_on_feeds_it_however_long_it_takes(tmp_path: Path) -> None:
    """A card's sync of a minute is work, not death: silence counts from its last progress."""
    with running_bench(tmp_path) as under_test:
        made = BoxUnderTest(under_test)
        pulse = Pulse(lambda: under_test.now_s)
        bench = Bench(archive=under_test.archive, clock_s=lambda: under_test.now_s, pulses=(pulse,))
        pulse.beat(busy=True)
        for _ in range(round(60.0 / TICK_S)):
            under_test.now_s += TICK_S
            made.box.bench_answered(workers=bench.workers_answer())
            made.box.tick(bench.snapshot, Quantity.LENGTH)
        assert made.said.count("WATCHDOG=1") >= 6

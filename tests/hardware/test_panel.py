"""The lamp box, on the fake port with a clock of its own."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from hardware.panel import DEBOUNCE_S, LAMP_TEST_S, RHYTHMS, Lamps, Panel, Rhythm
from hardware.pins import BUTTONS, LAMPS, Line
from tests.hardware.fake_gpio import FakeGpioPort

TICK_S = 1 / 30  # the screen's own rate


class Bench:
    """A panel on a fake port, and time that passes only when told."""

    def __init__(self) -> None:
        self.port = FakeGpioPort()
        self.panel = Panel(self.port)
        self.now_s = 100.0
        self.panel.start(self.now_s)

    def pass_time(self, seconds: float) -> list[Line]:
        pressed: list[Line] = []
        for _ in range(round(seconds / TICK_S)):
            self.now_s += TICK_S
            pressed += self.panel.tick(self.now_s)
        return pressed


@pytest.fixture
def bench() -> Bench:
    made = Bench()
    assert made.port.lit == {*LAMPS, Line.BUZZER}
    made.pass_time(LAMP_TEST_S + 0.1)
    made.port.history.clear()
    return made


def test_lamp_test_lights_all_three_then_none() -> None:
    bench = Bench()
    assert set(LAMPS) <= bench.port.lit
    bench.pass_time(LAMP_TEST_S - 0.1)
    assert bench.port.lit == set(LAMPS)
    bench.pass_time(0.2)
    assert bench.port.lit == set()


@pytest.mark.parametrize(
    ("lamps", "lit"),
    [
        (Lamps.OFF, set()),
        (Lamps.GO, {Line.LAMP_GO}),
        (Lamps.NO_GO, {Line.LAMP_NO_GO}),
        (Lamps.UNDECIDED, {Line.LAMP_UNDECIDED}),
    ],
)
def test_one_lamp_for_one_word(bench: Bench, lamps: Lamps, lit: set[Line]) -> None:
    bench.panel.show(lamps)
    bench.pass_time(1.0)
    assert bench.port.lit == lit
    bench.panel.show(Lamps.OFF)
    bench.pass_time(TICK_S)
    assert bench.port.lit == set()


def test_contradiction_flashes_the_undecided_lamp(bench: Bench) -> None:
    bench.panel.show(Lamps.CONTRADICTION)
    bench.pass_time(2.0)
    lamp = [high for line, high in bench.port.history if line is Line.LAMP_UNDECIDED]
    assert len(lamp) >= 7
    assert all(a != b for a, b in pairwise(lamp))
    assert {line for line, _ in bench.port.history} == {Line.LAMP_UNDECIDED}


@pytest.mark.parametrize(
    ("lamps", "line", "lit_share", "changes_in_6_s"),
    [
        (Lamps.FEATURE_GO, Line.LAMP_GO, 0.5, 12),
        (Lamps.FEATURE_NO_GO, Line.LAMP_NO_GO, 0.5, 12),
        (Lamps.FEATURE_UNDECIDED, Line.LAMP_UNDECIDED, 0.5, 12),
        (Lamps.QUICK_CHECK_GO, Line.LAMP_GO, 2 / 3, 4),
    ],
)
def test_what_is_not_the_whole_coupon_blinks_each_in_its_own_time(
    bench: Bench, lamps: Lamps, line: Line, lit_share: float, changes_in_6_s: int
) -> None:
    bench.panel.show(lamps)
    before, lit, ticks = len(bench.port.history), 0, round(6.0 / TICK_S)
    for _ in range(ticks):
        bench.pass_time(TICK_S)
        lit += bench.port.lit == {line}
    assert abs(lit / ticks - lit_share) < 0.05
    assert abs(len(bench.port.history) - before - changes_in_6_s) <= 1


def heard(bench: Bench, rhythm: Rhythm, tick_s: float = TICK_S) -> list[str]:
    """The sounds as an ear sorts them: short or long."""
    bench.panel.sound(rhythm, bench.now_s)
    began_s, sounds, on = bench.now_s, [], False
    for _ in range(round(4.0 / tick_s)):
        bench.now_s += tick_s
        bench.panel.tick(bench.now_s)
        if (Line.BUZZER in bench.port.lit) != on:
            on = not on
            if on:
                began_s = bench.now_s
            else:
                sounds.append("short" if bench.now_s - began_s < 0.3 else "long")
    return sounds


@pytest.mark.parametrize("rhythm", list(Rhythm))
@pytest.mark.parametrize("tick_s", [1 / 60, 1 / 30, 1 / 10])
def test_a_rhythm_is_heard_as_it_is_written(bench: Bench, rhythm: Rhythm, tick_s: float) -> None:
    assert heard(bench, rhythm, tick_s) == ["short" if length_s < 0.3 else "long" for length_s in RHYTHMS[rhythm]]


@pytest.mark.parametrize(("one", "other"), list(combinations(Rhythm, 2)))
def test_rhythms_differ_by_number_or_order_of_sounds(bench: Bench, one: Rhythm, other: Rhythm) -> None:
    assert heard(bench, one) != heard(bench, other)


def test_the_newest_rhythm_cuts_off_the_one_before(bench: Bench) -> None:
    bench.panel.sound(Rhythm.NO_GO, bench.now_s)
    bench.pass_time(0.2)
    assert heard(bench, Rhythm.REFUSED)[-2:] == ["short", "short"]
    assert Line.BUZZER not in bench.port.lit


@pytest.mark.parametrize("line", BUTTONS)
def test_one_press_counts_once_however_long_it_is_held(bench: Bench, line: Line) -> None:
    bench.port.press(line)
    assert bench.pass_time(3.0) == [line]
    bench.port.release(line)
    assert bench.pass_time(0.5) == []
    bench.port.press(line)
    assert bench.pass_time(0.5) == [line]


def test_a_bouncing_contact_counts_once(bench: Bench) -> None:
    pressed: list[Line] = []
    for level in (False, True, False, True, False, True, False):
        (bench.port.release if level else bench.port.press)(Line.PEDAL)
        bench.now_s += 0.01
        pressed += bench.panel.tick(bench.now_s)
    assert pressed == []
    assert bench.pass_time(0.2) == [Line.PEDAL]


def test_a_spike_shorter_than_the_debounce_time_is_nothing(bench: Bench) -> None:
    bench.port.press(Line.VOID)
    bench.now_s += DEBOUNCE_S * 0.4
    pressed = [*bench.panel.tick(bench.now_s)]
    bench.port.release(Line.VOID)
    assert pressed + bench.pass_time(0.5) == []


def test_a_pedal_held_down_at_start_takes_no_reading() -> None:
    port = FakeGpioPort()
    panel = Panel(port)
    panel.start(0.0)
    port.press(Line.PEDAL)
    assert [panel.tick(step / 30) for step in range(1, 60)] == [()] * 59


def test_absent_pins_are_silent_and_say_why() -> None:
    panel = Panel(None, absent="no GPIO library is installed")
    panel.start(0.0)
    panel.show(Lamps.GO)
    panel.sound(Rhythm.GO, 0.0)
    assert panel.tick(1.0) == ()
    panel.close()
    assert panel.fault == "no GPIO library is installed"


@pytest.mark.parametrize("moment", ["start", "run", "close"])
def test_failing_pins_never_raise(moment: str) -> None:
    port = FakeGpioPort()
    panel = Panel(port)
    if moment == "start":
        port.break_down("pins taken away")
    panel.start(0.0)
    if moment == "run":
        port.break_down("pins taken away")
    panel.show(Lamps.NO_GO)
    for step in range(90):
        assert panel.tick(step / 30) == ()
    if moment != "close":
        assert panel.fault == "pins taken away"
    panel.close()
    panel.close()


def test_closing_puts_everything_out(bench: Bench) -> None:
    bench.panel.show(Lamps.GO)
    bench.panel.sound(Rhythm.GO, bench.now_s)
    bench.pass_time(0.1)
    assert bench.port.lit == {Line.LAMP_GO, Line.BUZZER}
    bench.panel.close()
    assert bench.port.lit == set()
    assert {(Line.LAMP_GO, False), (Line.BUZZER, False)} <= set(bench.port.history)

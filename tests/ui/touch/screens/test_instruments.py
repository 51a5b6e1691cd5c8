"""The instruments screen: cards that stay put while numbers change, and buttons that send."""

from __future__ import annotations

from dataclasses import replace

from core.said import Name
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.cables import AskPort, TryInstrument
from ui.state.snapshot import StrangePort

STRANGER = StrangePort(path="/dev/x", description="adapter", text="silent", listening=False, offers=())


def test_one_touch_tests_an_instrument(screen) -> None:
    caliper = replace(screen.bench.snapshot.instruments[0], last=Name("120.34 mm"), rate_hz=10.0)
    screen.show(replace(screen.bench.snapshot, revision=900, instruments=(caliper,)))
    screen.go("instruments")
    find_text(screen, "last: 120.34 mm, 10.0 a second")
    tap_text(screen, "Test")
    assert screen.bench.sent[-1] == TryInstrument(instrument=caliper.name)


def test_a_button_stays_the_same_while_numbers_change(screen) -> None:
    caliper = screen.bench.snapshot.instruments[0]
    screen.go("instruments")
    screen.show(replace(screen.bench.snapshot, revision=900, instruments=(caliper,)))
    before = find_text(screen, "Test")
    screen.show(replace(screen.bench.snapshot, revision=901, instruments=(replace(caliper, indications=813),)))
    assert find_text(screen, "Test") is before


def test_a_stranger_can_be_asked(screen) -> None:
    screen.go("instruments")
    screen.show(replace(screen.bench.snapshot, revision=900, ports=(STRANGER,), instruments=()))
    tap_text(screen, "Ask it")
    assert screen.bench.sent[-1] == AskPort(path="/dev/x")

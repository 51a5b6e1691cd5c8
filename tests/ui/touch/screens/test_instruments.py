"""The instruments screen: cards that stay put while numbers change, and buttons that send."""

from __future__ import annotations

from msgspec.structs import replace

from core.said import Name
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.cables import AskPort, ListenPort, LookForRadio, TryInstrument
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


def test_nothing_looks_for_radio_before_it_is_touched(screen) -> None:
    screen.go("instruments")
    assert LookForRadio() not in screen.bench.sent
    tap_text(screen, "Radio")
    assert screen.bench.sent[-1] == LookForRadio()


def test_what_was_heard_on_radio_is_listened_to_and_never_asked(screen) -> None:
    screen.go("instruments")
    found = replace(STRANGER, path="radio:C0:DE:00:00:00:07", description="bench caliper", opened=False)
    screen.show(replace(screen.bench.snapshot, revision=900, ports=(found,), instruments=()))
    find_text(screen, "Numbers count once they were compared with its display.")
    words = {str(getattr(widget, "text", "")) for widget in shown_widgets(screen)}
    assert not words & {"Ask it", "Set up by hand"}
    tap_text(screen, "Listen")
    assert screen.bench.sent[-1] == ListenPort(path=found.path)

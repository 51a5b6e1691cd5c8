"""What the instruments screen says and what its buttons send."""

from __future__ import annotations

from msgspec.structs import replace

from core.metrology.readings import Quantity
from core.said import NOTHING, Name, Series
from firmware_bridge.byte_link import LinkState
from firmware_bridge.discovery import LISTENING
from firmware_bridge.instrument_settings import InstrumentSettings
from ui.bench.desks.cables import AskPort, ForgetInstrument, TryInstrument, UseInstrument
from ui.bench.steps import empty_snapshot
from ui.pages.instruments import ASKING, NONE_FOUND, SOME_FOUND, STRANGER, instrument_cards, summary
from ui.state.snapshot import InstrumentStatus, Snapshot, StrangePort
from ui.terminal.commands import parse_line

EMPTY = empty_snapshot(simulated=False)
CALIPER = InstrumentStatus(
    name="caliper",
    state=LinkState.UP,
    text=Name("length, cable at 4800 baud, 4800 7E2"),
    indications=812,
    faults=3,
    last_fault=Name("a line that is not in this instrument's format"),
    last=Name("120.34 mm"),
    rate_hz=9.6,
    port="/dev/serial/by-id/a",
)


def offer(format_name: str) -> InstrumentSettings:
    return InstrumentSettings(name="caliper", port="/dev/x", format_name=format_name, quantity=Quantity.LENGTH)


def with_port(*offers: InstrumentSettings, listening: bool = False) -> Snapshot:
    port = StrangePort(path="/dev/x", description="adapter", text=Name("speaks"), listening=listening, offers=offers)
    return replace(EMPTY, ports=(port,))


def test_a_connected_instrument_says_what_it_speaks_says_and_was_refused() -> None:
    (card,) = instrument_cards(replace(EMPTY, instruments=(CALIPER,)))
    assert (str(card.title), str(card.state), card.alarm) == ("caliper", "connected", False)
    assert tuple(map(str, card.lines)) == (
        "length, cable at 4800 baud, 4800 7E2",
        "last: 120.34 mm, 9.6 a second",
        "812 indications, 3 not understood, the last: a line that is not in this instrument's format",
    )
    assert [button.command or button.opens for button in card.buttons] == [
        TryInstrument(instrument="caliper"),
        "/dev/serial/by-id/a",
        ForgetInstrument(port="/dev/serial/by-id/a"),
    ]


def test_a_lost_one_says_so() -> None:
    lost = replace(CALIPER, state=LinkState.LOST, text=Name("cable pulled"), last=NOTHING, rate_hz=None, port="")
    (card,) = instrument_cards(replace(EMPTY, instruments=(lost,)))
    assert (str(card.state), card.alarm, str(card.lines[0]), str(card.lines[1])) == (
        "LOST",
        True,
        "cable pulled",
        "has said nothing yet",
    )
    assert len(card.buttons) == 1


def test_a_recognised_stranger_is_offered() -> None:
    (card,) = instrument_cards(with_port(offer("length-3.3")))
    assert [(str(button.words), button.command or button.opens) for button in card.buttons] == [
        ("Use as caliper", UseInstrument(settings=offer("length-3.3"))),
        ("Set up by hand", "/dev/x"),
    ]


def test_formats_that_look_alike_are_told_apart() -> None:
    (card,) = instrument_cards(with_port(offer("channels-first"), offer("channels-last")))
    assert [str(button.words) for button in card.buttons] == [
        "Use: channel first",
        "Use: channel last",
        "Set up by hand",
    ]


def test_a_silent_stranger_may_be_asked_with_the_caution() -> None:
    (card,) = instrument_cards(with_port())
    assert [button.command or button.opens for button in card.buttons] == [AskPort(path="/dev/x"), "/dev/x"]
    assert card.lines[2] == ASKING
    (listening,) = instrument_cards(with_port(listening=True))
    assert listening.buttons == ()


def test_the_sentence_above() -> None:
    assert summary(EMPTY) == NONE_FOUND
    assert summary(replace(EMPTY, instruments=(CALIPER,))) == SOME_FOUND
    assert summary(with_port(offer("length-3.3"))) == STRANGER
    assert summary(with_port()) == NONE_FOUND


def test_what_waits_for_an_answer_stands_first_and_what_is_silent_last() -> None:
    ports = (
        StrangePort(path="/dev/a", description="silent adapter", text=Name("silent"), listening=False, offers=()),
        StrangePort(path="/dev/b", description="heard now", text=LISTENING, listening=True, offers=()),
        *with_port(offer("length-3.3")).ports,
    )
    cards = instrument_cards(replace(EMPTY, ports=ports, instruments=(CALIPER,)))
    assert [str(card.title) for card in cards] == ["heard now", "adapter", "caliper", "silent adapter"]


def test_the_text_bench_lists_them_and_does_what_a_number_says() -> None:
    snapshot = replace(with_port(offer("length-3.3")), instruments=(CALIPER,))
    listed = parse_line("instruments", snapshot)
    assert isinstance(listed, Series)
    assert "    1  Use as caliper" in str(listed)
    assert "    last: 120.34 mm, 9.6 a second" in str(listed)
    assert parse_line("instruments 1", snapshot) == UseInstrument(settings=offer("length-3.3"))
    assert parse_line("instruments 2", snapshot) == TryInstrument(instrument="caliper")
    assert str(parse_line("instruments 9", snapshot)) == "there are numbers 1 to 3"
    assert str(parse_line("instruments 1", EMPTY)) == "there is nothing to choose from"

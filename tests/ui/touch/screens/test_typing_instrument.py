"""What an instrument types into the program's window is its reading, and reaches no button."""

from __future__ import annotations

import pytest
from kivy.core.window import Window

from firmware_bridge.byte_link import IndicationArrived

ENTER = 13


def test_a_number_typed_in_one_burst_is_posted_as_a_reading_meant(screen, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.touch.bench_app.time.monotonic", lambda: 5.0)
    sent_before = list(screen.bench.sent)
    for character in "143.62":
        Window.dispatch("on_key_down", ord(character), 0, character, [])
    Window.dispatch("on_key_down", ENTER, 0, None, [])
    (event,) = screen.bench.posted
    assert isinstance(event, IndicationArrived)
    assert (event.indication.shown, event.indication.requested) == (143.62, True)
    assert screen.bench.sent == sent_before


def test_a_persons_keys_are_nobodys(screen, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter(range(100))
    monkeypatch.setattr("ui.touch.bench_app.time.monotonic", lambda: float(next(clock)))
    for character in "12.3":
        Window.dispatch("on_key_down", ord(character), 0, character, [])
    Window.dispatch("on_key_down", ENTER, 0, None, [])
    assert screen.bench.posted == []

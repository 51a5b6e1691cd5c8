"""Numbers typed into the focused window by an instrument, and none by a person."""

from __future__ import annotations

import pytest

from core.metrology.readings import Quantity, Unit
from firmware_bridge.byte_link import FaultSeen, IndicationArrived
from firmware_bridge.focused_keyboard import FocusedKeyboard


def typed(
    text: str, gap_s: float, quantity: Quantity = Quantity.LENGTH, keyboard: FocusedKeyboard | None = None
) -> list[IndicationArrived | FaultSeen]:
    keyboard = keyboard or FocusedKeyboard()
    return [
        event
        for index, character in enumerate(text)
        for event in keyboard.key(character, quantity, 10.0 + index * gap_s)
    ]


@pytest.mark.parametrize(("quantity", "unit"), [(Quantity.LENGTH, Unit.MM), (Quantity.ANGLE, Unit.DEG)])
def test_a_number_typed_by_an_instrument_is_meant(quantity: Quantity, unit: Unit) -> None:
    (event,) = typed("90,43\r", 0.004, quantity)
    assert isinstance(event, IndicationArrived)
    assert (event.indication.shown, event.indication.unit, event.indication.requested) == (90.43, unit, True)


def test_a_number_typed_by_a_person_is_nobodys() -> None:
    assert typed("120.34\r", 0.15) == []


def test_a_persons_keys_before_do_not_spoil_the_instruments_number() -> None:
    keyboard = FocusedKeyboard()
    list(keyboard.key("x", Quantity.LENGTH, 1.0))
    (event,) = typed("120.34\t", 0.004, keyboard=keyboard)
    assert isinstance(event, IndicationArrived)


def test_letters_typed_as_fast_are_a_fault() -> None:
    (event,) = typed("12x.34\r", 0.004)
    assert isinstance(event, FaultSeen)


def test_a_lone_enter_says_nothing_and_a_held_key_does_not_grow() -> None:
    keyboard = FocusedKeyboard()
    assert typed("\r", 0.0, keyboard=keyboard) == []
    assert typed("7" * 10_000, 0.001, keyboard=keyboard) == []
    assert len(keyboard._typed) <= 32

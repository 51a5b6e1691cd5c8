"""The guided correction by touch: every stage offers what it asks for."""

from __future__ import annotations

import pytest

from core.metrology.readings import Quantity
from tests.ui.scenes import SCENES
from tests.ui.touching import tap_text
from ui.bench.desks.live import TakeReading
from ui.bench.desks.machines import AbandonCorrection, BeginCorrection, GuidedAnswer
from ui.bench.desks.measuring import CloseSession


def test_beginning_closes_the_coupon_first(screen) -> None:
    screen.show(SCENES["to-correct"]())
    screen.go("correct")
    tap_text(screen, "Begin the correction")
    assert screen.bench.sent == [CloseSession(), BeginCorrection()]


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        ("cautions", "Read and done"),
        ("play", "No play found"),
        ("loosen", "Loosened"),
        ("set", "Set"),
        ("recut", "The next coupon is cut"),
    ],
)
def test_a_step_is_ticked_off(screen, scene: str, words: str) -> None:
    screen.show(SCENES[scene]())
    screen.go("correct")
    tap_text(screen, words)
    assert screen.bench.sent == [GuidedAnswer()]


def test_a_gap_is_taken_from_the_calipers(screen) -> None:
    screen.show(SCENES["gaps"]())
    screen.go("correct")
    tap_text(screen, "Take the gap")
    assert screen.bench.sent == [TakeReading(quantity=Quantity.LENGTH)]


def test_a_gap_is_typed(screen) -> None:
    screen.show(SCENES["gaps"]())
    screen.go("correct")
    tap_text(screen, "Type the gap")
    for key in "12.4":
        tap_text(screen, key)
    tap_text(screen, "Take this gap")
    assert screen.bench.sent == [GuidedAnswer(gap_mm=12.4)]


def test_giving_up_asks_how_the_machine_is_left(screen) -> None:
    screen.show(SCENES["loosen"]())
    screen.go("correct")
    tap_text(screen, "Give up")
    tap_text(screen, "Keep on")
    assert screen.bench.sent == []
    tap_text(screen, "Give up")
    tap_text(screen, "Loosened, not set")
    assert screen.bench.sent == [AbandonCorrection(reason="loosened, not set")]


def test_the_meter_follows_the_calipers_while_it_is_set(screen) -> None:
    screen.show(SCENES["set"]())
    screen.go("correct")
    assert screen.app.root.screen.meter.to_go_mm == pytest.approx(abs(7.07 - 5.21), abs=0.02)

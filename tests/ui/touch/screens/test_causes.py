"""Causes by touch: every page says its piece, every action sends its command, numbers are typed on the pad."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.machine.holding import HowHeld
from core.machine.machine_log import CoarseReset, LogEntry
from core.machine.parallelism import Gaps
from core.machine.reversal_check import Overhang, StepGauge
from core.machine.square_reference import keep_reference
from core.metrology.adjustment import Estimate
from core.said import Name
from tests.ui.scenes import SCENES
from tests.ui.touching import shown_widgets, tap_text
from ui.bench.desks.belts import ListenToBelt
from ui.bench.desks.machines import BeginCorrectionByReference, KeepReference, LogCoarseReset
from ui.bench.desks.witness import FindByReversal
from ui.state.snapshot import BeltsSlice, Snapshot


@pytest.fixture
def causes(screen):
    screen.show(SCENES["to-correct"]())
    screen.go("causes")
    return screen


def said(screen) -> str:
    return str(screen.app.root.screen.text)


def type_number(screen, field: int, number: str) -> None:
    screen.app.root.screen.type_into(field)
    screen.frames(3)
    for key in number:
        # The field shows figures as well: the key is the button.
        (button,) = (w for w in shown_widgets(screen) if type(w).__name__ == "KeyButton" and str(w.text) == key)
        screen.tap(*button.to_window(*button.center))
    tap_text(screen, "That is it")


def test_why_names_the_fault_and_what_cannot_be_told(causes) -> None:
    assert "the gantry is racked" in said(causes)
    assert "takes a second coupon" in said(causes)
    assert "the move is known to" in said(causes)


def test_a_machine_that_cannot_be_adjusted_is_told_what_to_do_with_the_design(causes) -> None:
    snapshot = SCENES["to-correct"]()
    machine = replace(snapshot.machines.current, held=HowHeld.NOT_ADJUSTABLE)
    causes.show(replace(snapshot, machines=replace(snapshot.machines, current=machine)))
    assert "Correct the design by x' =" in said(causes)


def test_before_and_after_waits_for_a_closed_coupon(causes) -> None:
    tap_text(causes, "Before, after")
    assert "held against the one before it" in said(causes)


def test_a_coarse_reset_is_logged_by_one_touch(causes) -> None:
    tap_text(causes, "To the frame")
    assert "not to its travel" in said(causes)
    tap_text(causes, "Squared to its frame")
    assert causes.bench.sent == [LogCoarseReset(reset=CoarseReset.FRAME)]


def with_reference(snapshot: Snapshot) -> Snapshot:
    kept = keep_reference("session-1", Estimate(value=0.05, u=0.01), Gaps(first_mm=30.0, second_mm=31.0))
    log = (LogEntry(sequence=1, time_utc=None, payload=kept),)
    return replace(snapshot, machines=replace(snapshot.machines, log=log))


def test_gaps_are_typed_remembered_and_used(causes) -> None:
    tap_text(causes, "Two gaps")
    tap_text(causes, "Remember with this coupon")
    assert "Type both gaps first" in said(causes)
    type_number(causes, 0, "32.1")
    type_number(causes, 1, "33")
    tap_text(causes, "Remember with this coupon")
    gaps = Gaps(first_mm=32.1, second_mm=33.0)
    assert causes.bench.sent == [KeepReference(gaps=gaps)]
    causes.show(with_reference(SCENES["to-correct"]()))
    tap_text(causes, "Set it by these gaps")
    assert causes.bench.sent[-1] == BeginCorrectionByReference(gaps=gaps)
    assert causes.app.root.screen.name == "correct"


def test_belts_are_listened_to_one_after_the_other(causes) -> None:
    tap_text(causes, "Belts")
    tap_text(causes, "Listen: left, near")
    assert causes.bench.sent == [ListenToBelt(first=True)]
    causes.show(replace(SCENES["to-correct"](), belts=BeltsSlice(listening=True, text=Name("Listening: pluck it."))))
    assert "Listening: pluck it." in said(causes)


def test_the_reversal_check_is_kept_with_the_coupon(causes) -> None:
    tap_text(causes, "Reversal check")
    tap_text(causes, "Lower out, feeler")
    assert "Type the step first" in said(causes)
    assert causes.bench.sent == []
    type_number(causes, 0, "1.4")
    tap_text(causes, "Lower out, feeler")
    assert causes.bench.sent == [FindByReversal(step_mm=1.4, overhang=Overhang.LOWER, gauge=StepGauge.FEELER)]


def test_without_coupon_or_machine_each_page_says_what_it_needs(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("causes")
    assert said(screen) == "Measure a coupon first."
    tap_text(screen, "Two gaps")
    assert "Describe the machine first" in said(screen)
    tap_text(screen, "Reversal check")
    assert "Begin the coupon first" in said(screen)


def test_gaps_being_typed_are_there_again_after_another_page_and_another_screen(causes) -> None:
    tap_text(causes, "Two gaps")
    type_number(causes, 0, "32.1")
    tap_text(causes, "Belts")
    tap_text(causes, "Two gaps")
    assert causes.app.root.screen.first_text == "32.1"
    causes.go("verdict")
    causes.go("causes")
    assert causes.app.root.screen.first_text == "32.1"

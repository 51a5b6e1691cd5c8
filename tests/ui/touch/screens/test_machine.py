"""Describing a machine by touch, question by question."""

from __future__ import annotations

from core.machine.directions import Axis, Front, Side
from core.machine.holding import HowHeld
from core.machine.machine_log import MachineEventKind
from core.machine.profile import Process
from tests.ui.scenes import SCENES
from tests.ui.touching import tap_text
from ui.bench.desks.machines import LogMachineEvent, SaveMachine
from ui.pages.machine import next_question, profile_of


def test_a_machine_is_described_by_touch(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("machine")
    for words in ("Describe a new machine", "Router", "router 2", "Along X", "Y grows away from me"):
        tap_text(screen, words)
    for key in ("6", "4", "0", "Take this number"):
        tap_text(screen, key)
    tap_text(screen, "adjusting screws")
    tap_text(screen, "1")
    tap_text(screen, "Take this number")
    tap_text(screen, "The right end only")
    tap_text(screen, "On the far side")
    tap_text(screen, "At the adjusters")
    for key in ("7", "0", "0", "Take this number"):
        tap_text(screen, key)
    tap_text(screen, "No")
    command = screen.bench.sent[-1]
    assert isinstance(command, SaveMachine)
    profile = command.profile
    assert (profile.name, profile.process, profile.span_mm) == ("router 2", Process.ROUTER, 640.0)
    assert (profile.gantry_axis, profile.front, profile.held) == (Axis.X, Front.Y_AWAY, HowHeld.SCREWS)
    assert (profile.screw_pitch_mm, profile.controller_skew_set) == (1.0, False)
    assert (profile.movable, profile.reference) == ((Side.RIGHT,), Side.FAR)
    assert (profile.gap_span_mm, profile.part_side_mm) == (None, 700.0)


def test_a_wrong_answer_can_be_taken_back(screen) -> None:
    screen.go("machine")
    tap_text(screen, "Describe a new machine")
    tap_text(screen, "Knife")
    tap_text(screen, "Previous question")
    tap_text(screen, "Laser")
    assert screen.app.root.screen.title == "What shall it be called?"
    assert "laser" in dict(screen.app.root.screen.ids.choices.choices)


def test_what_happened_to_the_machine_is_logged(screen) -> None:
    screen.show(SCENES["to-correct"]())
    screen.go("machine")
    tap_text(screen, "Something happened to it")
    tap_text(screen, "It crashed")
    assert screen.bench.sent[-1] == LogMachineEvent(kind=MachineEventKind.CRASH)


def test_an_impossible_span_is_said() -> None:
    answers = (
        ("process", "router"),
        ("name", "router"),
        ("gantry_axis", "x"),
        ("front", "y-away"),
        ("span_mm", "5"),
        ("held", "rails"),
        ("movable", "both"),
        ("reference", "left"),
        ("gap_span_mm", "500"),
        ("part_side_mm", "unknown"),
        ("controller_skew_set", "no"),
    )
    assert next_question(answers, ()) is None
    assert "between 50 and 10000 mm" in str(profile_of(answers))

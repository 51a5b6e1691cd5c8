"""Describing a machine by touch, question by question."""

from __future__ import annotations

from itertools import product

from msgspec.structs import replace

from core.machine.directions import Axis, Front, Side
from core.machine.holding import HowHeld
from core.machine.machine_log import MachineEventKind
from core.machine.profile import MachineProfile, Process
from tests.ui.scenes import ROUTER, SCENES
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.machines import LogMachineEvent, SaveMachine
from ui.pages.machine import answers_of, next_question, profile_of, questions
from ui.touch.pictures.questions import answer_picture, number_picture


def describe(screen) -> None:
    """A router whose right end is set by screws, answered picture by picture."""
    for words in ("Describe a new machine", "Router"):
        tap_text(screen, words)
    for key in ("O", "A", "K", "space", "2", "Take this name"):
        tap_text(screen, key)
    for words in ("Y grows away from me", "Along X"):
        tap_text(screen, words)
    for key in ("6", "4", "0", "Take this number"):
        tap_text(screen, key)
    tap_text(screen, "Adjusting screws")
    tap_text(screen, "1")
    tap_text(screen, "Take this number")
    tap_text(screen, "The right end only")
    tap_text(screen, "On the far side")
    tap_text(screen, "At the adjusters")
    for key in ("7", "0", "0", "Take this number"):
        tap_text(screen, key)
    tap_text(screen, "No")


def kept(screen) -> MachineProfile:
    tap_text(screen, "Keep this machine")
    command = screen.bench.sent[-1]
    assert isinstance(command, SaveMachine)
    return command.profile


def test_a_machine_is_described_by_touch_and_named_freely(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("machine")
    describe(screen)
    find_text(screen, "A skew of 0.1° puts its ends 1.1 mm out of square: the right end is set (adjusting screws).")
    profile = kept(screen)
    assert (profile.name, profile.process, profile.span_mm) == ("Oak 2", Process.ROUTER, 640.0)
    assert (profile.gantry_axis, profile.front, profile.held) == (Axis.X, Front.Y_AWAY, HowHeld.SCREWS)
    assert (profile.screw_pitch_mm, profile.controller_skew_set) == (1.0, False)
    assert (profile.movable, profile.reference) == ((Side.RIGHT,), Side.FAR)
    assert (profile.gap_span_mm, profile.part_side_mm) == (None, 700.0)


def test_any_answer_is_changed_before_it_is_kept_and_what_no_longer_fits_is_asked_anew(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("machine")
    describe(screen)
    tap_text(screen, "Gantry\nAlong X")
    tap_text(screen, "Along Y")
    # Left and right are no ends of this gantry: which one moves, and from where gaps are read, is asked again.
    tap_text(screen, "The far end only")
    tap_text(screen, "On the left side")
    profile = kept(screen)
    assert (profile.gantry_axis, profile.movable, profile.reference) == (Axis.Y, (Side.FAR,), Side.LEFT)
    assert (profile.span_mm, profile.screw_pitch_mm) == (640.0, 1.0), "everything else stays as it was answered"


def test_the_answers_of_a_machine_in_use_are_changed_and_nothing_else_of_it(screen) -> None:
    snapshot = SCENES["to-correct"]()
    known = replace(ROUTER, wanted_mm=0.3, bed_width_mm=700.0)
    screen.show(replace(snapshot, machines=replace(snapshot.machines, profiles=(known,), current=known)))
    screen.go("machine")
    tap_text(screen, "Change its answers")
    tap_text(screen, "Span\n640 mm")
    for key in ("8", "0", "0", "Take this number"):
        tap_text(screen, key)
    assert kept(screen) == replace(known, span_mm=800.0, reference=known.reference_side)


def test_a_name_that_is_taken_is_refused(screen) -> None:
    snapshot = SCENES["to-correct"]()
    known = (replace(ROUTER, name="Oak"),)
    screen.show(replace(snapshot, machines=replace(snapshot.machines, profiles=known)))
    screen.go("machine")
    for words in ("Describe a new machine", "Router", "O", "A", "K", "Take this name"):
        tap_text(screen, words)
    find_text(screen, "There is a machine of this name already.")


def test_a_wrong_answer_can_be_taken_back(screen) -> None:
    screen.go("machine")
    tap_text(screen, "Describe a new machine")
    tap_text(screen, "Knife")
    tap_text(screen, "Previous")
    tap_text(screen, "Laser")
    find_text(screen, "What shall it be called?")
    assert "laser" in dict(screen.app.root.screen.ids.offers.choices)


def test_every_answer_of_every_question_has_its_picture() -> None:
    for held, axis, front in product(HowHeld, Axis, Front):
        profile = MachineProfile(name="m", span_mm=640.0, held=held, gantry_axis=axis, front=front)
        given = answers_of(profile)
        assert profile_of(given) == replace(
            profile, reference=None if held is HowHeld.NOT_ADJUSTABLE else profile.reference_side
        )
        for question in questions(given):
            if question.unit:
                assert number_picture(question.name, given)
            elif question.name != "name":
                pictures = [answer_picture(question.name, answer, given) for answer, _ in question.choices]
                assert all(pictures)
                assert len(set(pictures)) == len(pictures), f"two answers to {question.name} look alike"


def test_the_drawn_gantry_lies_as_its_operator_sees_it() -> None:
    """X away from the operator: a gantry along X lies from near to far."""
    along_x = answer_picture("gantry_axis", "x", (("front", "x-away"),))
    assert along_x == answer_picture("gantry_axis", "y", (("front", "y-away"),))


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

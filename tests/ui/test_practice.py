"""Practice: four exercises, judged by the hidden truth; played on the real simulated bench, by touch and in the
terminal. SIMULATED."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.features import EDGES, Feature
from core.machine.gantry_correction import Correction, gantry_correction, profile_of_span
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import evaluate
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import Verdict
from core.metrology.witness import Answers, MarkSeen
from core.said import said
from tests.patience import WAIT_S
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES, practising
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench import practice
from ui.bench.bench import Bench
from ui.bench.desks.measuring import OpenSession
from ui.bench.desks.practice import AnswerExercise, BeginExercise
from ui.bench.opening import opening
from ui.bench.practice import COUPON, MOVES, SPAN_MM, Diagnosis, Exercise, PracticeFault, exercises, judge
from ui.pages.bench import Doing, bench_page
from ui.pages.causes import Page, causes_page
from ui.pages.correct import correct_page
from ui.pages.numbers import numbers_page
from ui.pages.practice import BEGIN, NOT_YET, practice_page
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.start import BenchOptions, assembled
from ui.state.snapshot import MachinesSlice, Snapshot
from ui.terminal.commands import parse_line
from ui.terminal.exit_status import ExitStatus
from ui.terminal.text_bench import TextBench

MARK_AT_NL = Answers(mark=MarkSeen.NL)

SEEDS = range(12)


def truth(exercise: Exercise) -> Diagnosis:
    return Diagnosis(fault=exercise.fault, move=exercise.move if exercise.fault is PracticeFault.RACKED else None)


@pytest.mark.parametrize("seed", SEEDS)
def test_each_fault_comes_once_in_whatever_order(seed: int) -> None:
    faults = [exercise.fault for exercise in exercises(seed)]
    assert sorted(faults) == sorted(set(PracticeFault) - {PracticeFault.NOTHING})


def test_orders_and_signs_differ() -> None:
    assert len({tuple(exercise.fault for exercise in exercises(seed)) for seed in SEEDS}) > 4
    racked = [next(one for one in exercises(seed) if one.fault is PracticeFault.RACKED) for seed in SEEDS]
    assert {one.skew_deg for one in racked} == {-0.5, 0.5}


@pytest.mark.parametrize("seed", SEEDS)
def test_only_the_truth_is_right(seed: int) -> None:
    for exercise in exercises(seed):
        for fault in PracticeFault:
            moves = MOVES if fault is PracticeFault.RACKED else (None,)
            right = {move: judge(exercise, Diagnosis(fault=fault, move=move)).right for move in moves}
            if fault is not exercise.fault:
                assert not any(right.values())
            elif fault is PracticeFault.RACKED:
                # One end one way is as good as the other end the other way.
                assert {move for move, good in right.items() if good} == {exercise.move, exercise.move.same_elsewhere}
            else:
                assert all(right.values())


def test_the_wrong_way_and_the_wrong_fault_are_told_apart() -> None:
    racked = Exercise(fault=PracticeFault.RACKED, skew_deg=0.35)
    wrong_way = replace(racked.move, direction=racked.move.direction.opposite)
    assert "double" in str(judge(racked, Diagnosis(fault=PracticeFault.RACKED, move=wrong_way)).sentences[0])
    assert "It was: Gantry racked" in str(judge(racked, Diagnosis(fault=PracticeFault.NOTHING)).sentences[0])


@pytest.mark.parametrize("skew_deg", [-0.5, 0.5])
def test_the_move_is_the_one_the_bench_itself_would_give(skew_deg: float) -> None:
    """The exercise's truth, measured without error, through the program's own adjustment and correction."""
    exercise = Exercise(fault=PracticeFault.RACKED, skew_deg=skew_deg)
    seated = np.cos(np.radians(skew_deg))
    readings = 2 * tuple(
        Reading(
            feature=feature,
            value=value * (seated if feature in EDGES else 1.0),
            unit=Unit.MM if feature.is_length else Unit.DEG,
        )
        for feature, value in practice._values(exercise).items()
    )
    evaluation = evaluate(COUPON, readings, limits_for_class(COUPON, "mK"), MeasuringSetup())
    correction = gantry_correction(evaluation, profile_of_span(SPAN_MM), answers=MARK_AT_NL)
    assert isinstance(correction, Correction)
    told = practice.Move(end=correction.end, direction=correction.direction)
    assert told in (exercise.move, exercise.move.same_elsewhere)
    assert correction.move_mm.value == pytest.approx(abs(exercise.racked_mm), abs=0.02)


def test_the_taper_is_said_of_the_edge_that_is_longer() -> None:
    exercise = Exercise(fault=PracticeFault.TAPERED, taper_y=-0.006)
    values = practice._values(exercise)
    assert values[Feature.LEFT] > values[Feature.RIGHT]
    assert "the left edge is longer than the other by 0.96 mm" in " ".join(
        map(str, judge(exercise, truth(exercise)).sentences)
    )


@pytest.fixture
def at_practice(tmp_path: Path) -> Iterator[Bench]:
    with assembled(BenchOptions(folder=tmp_path, scenario="racked", practice=True, seed=5, speed=30.0)) as bench:
        bench.send(BeginExercise())
        yield bench


def until(bench: Bench, reached) -> Snapshot:
    """Pump until the snapshot is so."""
    woken = threading.Event()
    bench.subscribe(woken.set)
    while not reached(bench.pump()):
        assert woken.wait(WAIT_S), bench.snapshot
        woken.clear()
    return bench.snapshot


def test_four_coupons_are_measured_diagnosed_and_explained(at_practice: Bench) -> None:
    seen = {}
    for number, exercise in enumerate(exercises(5), start=1):
        snapshot = until(
            at_practice,
            lambda now, number=number: (
                now.practice.number == number and now.practice.session == now.session and now.closed and not now.storing
            ),
        )
        assert snapshot.simulated
        seen[exercise.fault] = snapshot.verdict
        at_practice.send(BeginExercise())
        assert "comes first" in str(at_practice.pump().message.text)
        at_practice.send(AnswerExercise(diagnosis=truth(exercise)))
        state = at_practice.pump().practice
        assert state.judgement.right
        assert state.solved == number
        at_practice.send(BeginExercise())
    assert seen[PracticeFault.RACKED] is Verdict.NO_GO
    assert seen[PracticeFault.TURNED_OVER] is Verdict.INCONSISTENT
    assert seen[PracticeFault.UNDERSIZED] is Verdict.NO_GO  # square; its size is what is wrong
    assert at_practice.pump().practice.number == 1  # and all over again


def test_an_answer_before_the_coupon_is_finished_is_refused(at_practice: Bench) -> None:
    until(at_practice, lambda now: now.session is not None)
    at_practice.send(AnswerExercise(diagnosis=Diagnosis(fault=PracticeFault.NOTHING)))
    snapshot = at_practice.pump()
    assert snapshot.practice.judgement is None
    assert "not finished" in str(snapshot.message.text)


class Pupil(io.StringIO):
    """Reads what the terminal shows, and types the next line whenever one is asked for."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__()
        self._lines = lines
        self._asked = threading.Semaphore(0)

    def write(self, text: str) -> int:
        for _ in range(text.count("then type:")):
            self._asked.release()
        return super().write(text)

    def typed(self) -> Iterator[str]:
        for line in self._lines:
            assert self._asked.acquire(timeout=WAIT_S)
            yield line


def test_the_terminal_asks_and_tells(at_practice: Bench) -> None:
    lines = []
    for exercise in exercises(5):
        racked = exercise.fault is PracticeFault.RACKED
        way = f" {exercise.move.end} {exercise.move.direction}" if racked else ""
        lines += [f"diagnose {exercise.fault}{way}", "practice"]
    lines[0] = "diagnose nothing"
    pupil = Pupil(lines[:-1])
    assert TextBench(at_practice, pupil, columns=None).run(pupil.typed(), quit_at_end=False) == ExitStatus.OK
    shown = pupil.getvalue()
    assert shown.count("Hidden until now (SIMULATED)") == 4
    assert "You said: Nothing is wrong." in shown
    assert "3 of 4 right" in shown


@pytest.mark.parametrize(
    ("line", "words"),
    [("diagnose", "say it such as"), ("diagnose racked", "say it such as"), ("diagnose x", "such as")],
)
def test_what_is_no_diagnosis_is_said(line: str, words: str) -> None:
    assert words in str(parse_line(line, SCENES["practice-asked"]()))
    assert "--practice" in str(parse_line(line, SCENES["no-go"]()))


OPEN = ("practice-open", "practice-asked")


@pytest.mark.parametrize("scene", OPEN)
def test_nothing_gives_the_answer_away_before_it_is_said(scene: str) -> None:
    """The same coupon tells the move as soon as the answer is in."""
    asked, answered = SCENES[scene](), SCENES["practice-answered"]()
    correction = gantry_correction(asked.evaluation, profile_of_span(SPAN_MM), answers=MARK_AT_NL)
    machines = MachinesSlice(correction=correction)
    asked, answered = (replace(one, machines=machines) for one in (asked, answered))
    for text in (
        *(str(causes_page(asked, page).text) for page in Page),
        str(correct_page(asked).text),
        str(bench_page(asked, Quantity.LENGTH, Doing())),
        *(str(parse_line(line, asked)) for line in ("why", "predict", "design", "correct")),
    ):
        assert "Move the" not in text
        assert "racked" not in text
    assert causes_page(asked, Page.WHY).text == correct_page(asked).text == NOT_YET
    assert correct_page(asked).setting is None
    assert "gantry is racked" in str(causes_page(answered, Page.WHY).text)
    assert correct_page(answered).setting is not None
    assert len(str(causes_page(answered, Page.NEXT).text).splitlines()) == 10


def test_the_slip_behind_contradictory_readings_is_for_the_person_to_find() -> None:
    asked = replace(SCENES["inconsistent"](), practice=SCENES["practice-open"]().practice)
    assert numbers_page(asked).explanations == (NOT_YET,)
    assert "Right edge" in " ".join(map(str, numbers_page(SCENES["inconsistent"]()).explanations))


@pytest.mark.parametrize("door", ["correct", "causes"])
def test_what_knows_the_answer_leads_back_to_the_exercise(screen, door: str) -> None:
    screen.show(SCENES["practice-asked"]())
    screen.go(door)
    assert find_text(screen, "The exercise comes first")
    tap_text(screen, "Back to the exercise")
    assert find_text(screen, "Cut too small")


def test_an_exercise_put_aside_can_be_laid_again(at_practice: Bench) -> None:
    begun = until(at_practice, lambda now: now.practice.session != "" and now.practice.session == now.session)
    at_practice.send(OpenSession(opened=opening(COUPON)))
    aside = until(at_practice, lambda now: now.session != begun.session)
    assert practice_page(aside).choices == ((BEGIN, said("Lay it again")),)
    at_practice.send(BeginExercise())
    again = until(at_practice, lambda now: now.practice.session == now.session)
    assert (again.practice.number, again.practice.session != begun.session) == (begun.practice.number, True)


def test_by_touch(screen) -> None:
    screen.show(SCENES["practice-asked"]())
    screen.go("bench")
    tap_text(screen, "Say what is wrong")
    tap_text(screen, "Gantry racked")
    tap_text(screen, "Something else")
    tap_text(screen, "Gantry racked")
    tap_text(screen, "The left end farther from you")
    move = next(move for move in MOVES if str(move.words) == "the left end farther from you")
    assert screen.bench.sent == [AnswerExercise(diagnosis=Diagnosis(fault=PracticeFault.RACKED, move=move))]
    screen.show(SCENES["practice-answered"]())
    assert find_text(screen, "Not so")
    tap_text(screen, "Next coupon")
    assert screen.bench.sent[-1] == BeginExercise()


def test_the_door_is_there_only_where_there_is_something_to_practise_on(screen) -> None:
    screen.go("menu")
    assert not [widget for widget in shown_widgets(screen) if getattr(widget, "text", "") == "Practice"]
    assert find_text(screen, "Instruments")


def test_practice_begins_with_a_word_of_its_own(tmp_path: Path) -> None:
    """What it is, how long it takes, how to leave it; nothing is laid down before."""
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path, scenario="racked", practice=True)) as bench:
        status = TextBench(bench, out, columns=lambda: 80).run(("quit",), quit_at_end=True)
        assert bench.snapshot.session is None
    shown = out.getvalue()
    assert status == ExitStatus.UNDECIDED
    assert "== Practice (SIMULATED)" in shown
    assert "six minutes or so" in shown
    assert "then type: practice (to leave: quit)" in shown


def test_a_simulated_bench_does_not_speak_of_practice_unasked(tmp_path: Path) -> None:
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path, scenario="racked")) as bench:
        TextBench(bench, out, columns=lambda: 80).run(("stop", "quit"), quit_at_end=True)
    assert "Practice" not in out.getvalue()
    assert "New coupon." in out.getvalue()


def test_the_screen_of_practice_comes_up_first(tmp_path: Path) -> None:
    with (
        assembled(BenchOptions(folder=tmp_path, scenario="racked", practice=True)) as bench,
        Offscreen(bench, opens="practice") as screen,
    ):
        assert screen.app.root.screen.name == "practice"
        assert find_text(screen, "Begin") is not None
        tap_text(screen, "Begin")
        screen.frames_until(lambda: screen.app.root.screen.name == "bench")
        assert bench.snapshot.practice.number == 1


@pytest.mark.parametrize("speech", [Speech(), Speech(language=Language.GERMAN)], ids=["English", "German"])
def test_an_answer_is_told_leaf_by_leaf_whatever_it_is(speech: Speech) -> None:
    """Forty words, less seven in the bars and four on the keys; figures do not count."""
    for seed, fault in product(range(4), PracticeFault):
        for exercise in exercises(seed):
            for move in MOVES if fault is PracticeFault.RACKED else (None,):
                judgement = judge(exercise, Diagnosis(fault=fault, move=move))
                last = practising(answered=True)
                assert last.practice is not None
                done = replace(last.practice, judgement=judgement, number=last.practice.total)
                for leaf in range(3):
                    page = practice_page(replace(last, practice=done), leaf=leaf)
                    told = " ".join(speech.say(part) for part in (page.title, page.leaves[leaf]))
                    words = [word for word in told.split() if sum(map(str.isalpha, word)) > 1]
                    assert len(words) <= 40 - 7 - 4, told

"""What practice says and asks at each stage, for the screen and for the terminal. Pure.

Stage: practice screen, text bench. Input: Snapshot, and the fault already chosen. Output: PracticePage. No widget.
"""

from __future__ import annotations

from dataclasses import dataclass

from ui.bench.desks.practice import AnswerExercise, BeginExercise
from ui.bench.practice import FAULT_WORDS, MOVES, Diagnosis, PracticeFault
from ui.state.messages import Command
from ui.state.snapshot import Snapshot

BEGIN, WATCH, DONE, REJUDGE = "begin", "watch", "done", "rejudge"
# The screen of the exercise, as a choice of those that must not give its answer away.
BACK_TO_IT = ("practice", "Back to the exercise")
NOT_YET = "An exercise is open: what is wrong is for you to say. Say it first, then this page tells what it knows."
NOT_HERE = "Practice needs the simulated bench: start with --simulate or --practice."


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePage:
    """`choices` are (stable name, words)."""

    title: str
    text: str
    choices: tuple[tuple[str, str], ...]


def practice_page(snapshot: Snapshot, fault: PracticeFault | None = None) -> PracticePage:
    """Everything the practice screen says; `fault` while its second question is up."""
    state = snapshot.practice
    if state is None:
        return PracticePage(title="Practice", text=NOT_HERE, choices=())
    which = f"Coupon {state.number} of {state.total}"
    if state.number == 0:
        text = (
            "Three machines and a slip, each with one coupon, all SIMULATED. Watch the coupon being measured or take "
            "over, then say what is wrong. Correct and Causes stay silent until you have."
        )
        return PracticePage(title="Practice", text=text, choices=((BEGIN, "Begin"),))
    if state.judgement is not None:
        said = "\n".join(state.judgement.sentences)
        if not state.finished:
            return PracticePage(title=state.judgement.title, text=said, choices=((BEGIN, "Next coupon"),))
        text = f"{said}\n{state.solved} of {state.total} were right."
        return PracticePage(title=state.judgement.title, text=text, choices=((BEGIN, "Once more"), (DONE, "Done")))
    if snapshot.exercise_is_put_aside:
        text = "Another coupon came between. This one can be laid and measured again."
        return PracticePage(title=which, text=text, choices=((BEGIN, "Lay it again"),))
    if not snapshot.exercise_asks:
        text = "It is being measured. When you have seen enough, finish it on the verdict screen."
        return PracticePage(title=which, text=text, choices=((WATCH, "Watch"),))
    if fault is PracticeFault.RACKED:
        choices = tuple((move.words, move.words.removeprefix("the ").capitalize()) for move in MOVES)
        text = "Which end would you move, and which way? You stand at the front, the gantry lies along X."
        return PracticePage(title=which, text=text, choices=(*choices, (REJUDGE, "Something else")))
    text = "What is wrong? Look at the edges, the diagonals and the corners."
    return PracticePage(title=which, text=text, choices=tuple((one.value, words) for one, words in FAULT_WORDS.items()))


def chosen(name: str, fault: PracticeFault | None) -> Command | PracticeFault | None:
    """What a choice means: a command, the fault whose second question comes up, or None for the first question."""
    if name == BEGIN:
        return BeginExercise()
    if fault is PracticeFault.RACKED:
        move = next((move for move in MOVES if move.words == name), None)
        return AnswerExercise(diagnosis=Diagnosis(fault=fault, move=move)) if move else None
    if name == PracticeFault.RACKED:
        return PracticeFault.RACKED
    return AnswerExercise(diagnosis=Diagnosis(fault=PracticeFault(name)))

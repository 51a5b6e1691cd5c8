"""What practice says and asks at each stage, for the screen and for the terminal. Pure.

Stage: practice screen, text bench. Input: Snapshot, and the fault already chosen. Output: PracticePage. No widget.
"""

from dataclasses import dataclass

from core.said import Part, lines, said
from ui.bench.desks.practice import AnswerExercise, BeginExercise
from ui.bench.practice import FAULT_WORDS, MOVES, Diagnosis, PracticeFault
from ui.state.messages import Command
from ui.state.snapshot import Snapshot

BEGIN, WATCH, DONE, REJUDGE = "begin", "watch", "done", "rejudge"
# The screen of the exercise, as a choice of those that must not give its answer away.
BACK_TO_IT = ("practice", said("Back to the exercise"))
EXERCISE_FIRST = said("The exercise comes first")
NOT_YET = said(
    "An exercise is open: what is wrong is for you to say. Say it first, then this page tells what it knows."
)
NOT_HERE = said("Practice needs the simulated bench: start with --simulate or --practice.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePage:
    """`choices` are (stable name, words)."""

    title: Part
    text: Part
    choices: tuple[tuple[str, Part], ...]


def practice_page(snapshot: Snapshot, fault: PracticeFault | None = None) -> PracticePage:
    """Everything the practice screen says; `fault` while its second question is up."""
    state = snapshot.practice
    if state is None:
        return PracticePage(title=said("Practice"), text=NOT_HERE, choices=())
    which = said("Coupon {number} of {total}", number=state.number, total=state.total)
    text: Part
    if state.number == 0:
        text = said(
            "Three machines and a slip, a coupon each, all SIMULATED: six minutes or so. Watch or take over, then say "
            "what is wrong. Leave when you like."
        )
        return PracticePage(title=said("Practice"), text=text, choices=((BEGIN, said("Begin")),))
    if state.judgement is not None:
        judged = lines(*state.judgement.sentences)
        if not state.finished:
            return PracticePage(title=state.judgement.title, text=judged, choices=((BEGIN, said("Next coupon")),))
        right = said("{solved} of {total} were right.", solved=state.solved, total=state.total)
        text = lines(judged, right)
        choices = ((BEGIN, said("Once more")), (DONE, said("Done")))
        return PracticePage(title=state.judgement.title, text=text, choices=choices)
    if snapshot.exercise_is_put_aside:
        text = said("Another coupon came between. This one can be laid and measured again.")
        return PracticePage(title=which, text=text, choices=((BEGIN, said("Lay it again")),))
    if not snapshot.exercise_asks:
        text = said("It is being measured. When you have seen enough, finish it on the verdict screen.")
        return PracticePage(title=which, text=text, choices=((WATCH, said("Watch")),))
    if fault is PracticeFault.RACKED:
        moves = tuple((move.words, move.choice) for move in MOVES)
        text = said("Which end would you move, and which way? You stand at the front, the gantry lies along X.")
        return PracticePage(title=which, text=text, choices=(*moves, (REJUDGE, said("Something else"))))
    text = said("What is wrong? Look at the edges, the diagonals and the corners.")
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

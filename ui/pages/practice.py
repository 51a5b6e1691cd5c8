"""What practice says and asks at each stage, for the screen and for the terminal. Pure.

Stage: practice screen, text bench. Input: Snapshot, and the fault already chosen. Output: PracticePage. No widget.
"""

from msgspec import Struct

from core.said import Part, lines, said
from ui.bench import FAULT_WORDS, MOVES, AnswerExercise, BeginExercise, Diagnosis, PracticeFault
from ui.state import Command, Judgement, PracticeSlice, Snapshot

BEGIN, WATCH, DONE, REJUDGE, READ_ON = "begin", "watch", "done", "rejudge", "read-on"
# The screen of the exercise, as a choice of those that must not give its answer away.
BACK_TO_IT = ("practice", said("Back to the exercise"))
EXERCISE_FIRST = said("The exercise comes first")
NOT_YET = said(
    "An exercise is open: what is wrong is for you to say. Say it first, then this page tells what it knows."
)
NOT_HERE = said("Practice needs the simulated bench: start with --simulate or --practice.")


class PracticePage(Struct, frozen=True, kw_only=True):
    """`choices` are (stable name, words); `leaves` are the text one look after the other, where it is too much for
    one."""

    title: Part
    text: Part
    choices: tuple[tuple[str, Part], ...]
    leaves: tuple[Part, ...] = ()


def practice_page(snapshot: Snapshot, fault: PracticeFault | None = None, leaf: int = 0) -> PracticePage:
    """Everything the practice screen says; `fault` while its second question is up, `leaf` the one that is read."""
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
        return _judged_page(state, state.judgement, leaf)
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


def _judged_page(state: PracticeSlice, judgement: Judgement, leaf: int) -> PracticePage:
    """What was right and what to do first; why, and what was hidden, for who wants it."""
    answer, remedy, why, hidden = judgement.sentences
    on = (READ_ON, (said("Why"), said("What was hidden"), said("The answer"))[leaf])
    going: tuple[tuple[str, Part], ...] = (on, (BEGIN, said("Next coupon")))
    title: Part = judgement.title
    if state.finished:
        going = (on, (BEGIN, said("Once more")), (DONE, said("Done")))
        title = said("{judged}. {solved} of {total} right", judged=title, solved=state.solved, total=state.total)
    return PracticePage(
        title=title,
        text=lines(*judgement.sentences),
        choices=going,
        leaves=(lines(answer, remedy), why, hidden),
    )


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

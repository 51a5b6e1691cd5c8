"""Practice in the terminal: what is typed, and how the stages are shown. Pure.

Input: words and the snapshot they answer to. Output: a command, a sentence, or lines to print.
"""

from core.machine import Direction, Side
from core.said import Part, Series, said
from ui.bench import MOVES, AnswerExercise, BeginExercise, Diagnosis, Move, PracticeFault
from ui.pages.practice import NOT_HERE, practice_page
from ui.state import Command, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import indented

PRACTICE_HELP: HelpLines = (
    ("practice", said("on the simulated bench: the next coupon of an unknown machine")),
    ("diagnose tapered", said("what is wrong: undersized, tapered, turned-over, nothing, or")),
    ("diagnose racked right nearer", said("racked, with the end to move and the way (nearer, farther)")),
)


_HOW_TO_ANSWER = said("then type: diagnose FAULT (racked END WAY, undersized, tapered, turned-over, nothing)")


def parse_practice_line(words: list[str], snapshot: Snapshot) -> Command | Part | None:
    """The command these words mean, or the sentence that answers them; None when they are not about practice."""
    if words[0] not in ("practice", "diagnose"):
        return None
    if snapshot.practice is None:
        return NOT_HERE
    match words:
        case ["practice"]:
            return BeginExercise()
        case ["diagnose", "racked", end, way] if any((end, way) == (move.end, move.direction) for move in MOVES):
            move = Move(end=Side(end), direction=Direction(way))
            return AnswerExercise(diagnosis=Diagnosis(fault=PracticeFault.RACKED, move=move))
        case ["diagnose", fault] if fault in set(PracticeFault) - {PracticeFault.RACKED}:
            return AnswerExercise(diagnosis=Diagnosis(fault=PracticeFault(fault)))
        case _:
            return said("say it such as: diagnose undersized, or: diagnose racked right nearer")


def practice_lines(snapshot: Snapshot) -> tuple[Part, ...]:
    """The stage that is up, and what to type then."""
    state = snapshot.practice
    if state is None or (state.waits and not snapshot.exercise_asks):
        return ()
    if state.number == 0 and (snapshot.session is not None or snapshot.storing):
        return ()  # another coupon is measured; 'help' tells of practice
    page = practice_page(snapshot)
    texts: tuple[Part, ...] = (
        page.text.items if isinstance(page.text, Series) and page.text.joint == "\n" else (page.text,)
    )
    shown: tuple[Part, ...] = (
        said("== {title} (SIMULATED)", title=page.title),
        *(indented(text, "   ") for text in texts),
    )
    if state.waits:
        return (*shown, indented(_HOW_TO_ANSWER, "   "))
    return shown if state.finished else (*shown, indented(said("then type: practice (to leave: quit)"), "   "))

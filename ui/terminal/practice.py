"""Practice in the terminal: what is typed, and how the stages are shown. Pure.

Input: words and the snapshot they answer to. Output: a command, a sentence, or lines to print.
"""

from __future__ import annotations

from core.machine.directions import Direction, Side
from ui.bench.desks.practice import AnswerExercise, BeginExercise
from ui.bench.practice import MOVES, Diagnosis, Move, PracticeFault
from ui.pages.practice import NOT_HERE, practice_page
from ui.state.messages import Command
from ui.state.snapshot import Snapshot
from ui.terminal.help_lines import HelpLines

PRACTICE_HELP: HelpLines = (
    ("practice", "on the simulated bench: the next coupon of an unknown machine"),
    ("diagnose tapered", "what is wrong: undersized, tapered, turned-over, nothing, or"),
    ("diagnose racked right nearer", "racked, with the end to move and the way (nearer, farther)"),
)


def parse_practice_line(words: list[str], snapshot: Snapshot) -> Command | str | None:
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
            return "say it such as: diagnose undersized, or: diagnose racked right nearer"


def practice_lines(snapshot: Snapshot) -> list[str]:
    """The stage that is up, and what to type then."""
    state = snapshot.practice
    if state is None or (state.waits and not snapshot.exercise_asks):
        return []
    view = practice_page(snapshot)
    lines = [f"== {view.title} (SIMULATED)"]
    lines += [f"   {paragraph}" for paragraph in view.text.split("\n")]
    if state.waits:
        return [*lines, "   then type: diagnose FAULT (racked END WAY, undersized, tapered, turned-over, nothing)"]
    return lines if state.finished else [*lines, "   then type: practice"]

"""The practice desk: lays one exercise after the other on the simulated bench, and judges what the person says.

Input: commands. Output: the next snapshot's `practice`, and a session opened for each exercise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from core.records.events import Opened
from ui.bench.practice import Exercise, PracticeSlice, judge
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import Begun
from ui.bench.workers.archive_thread import ArchiveReport
from ui.pages.practice import is_put_aside
from ui.state.commands import AnswerExercise, BeginExercise, Command, OpenSession
from ui.state.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """The exercises, and what lays one on the simulated bench and says how its session begins."""

    exercises: tuple[Exercise, ...]
    lay: Callable[[Exercise], Opened]


class PracticeDesk:
    """Without a simulated bench there is nothing to practise on, and this desk takes nothing."""

    def __init__(self, practice: Practice | None, post: Callable[[Command], None]) -> None:
        self._practice = practice
        self._post = post

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns practice; anything else leaves the snapshot as it is."""
        if self._practice is None:
            return draft
        state = draft.practice or PracticeSlice(total=len(self._practice.exercises))
        match event:
            case Begun(session=session) if state.waits and not state.session:
                text = (
                    f"Practice, coupon {state.number} of {state.total}: it is measured first, then say what is wrong."
                )
                return told(replace(draft, practice=replace(state, session=session)), text)
            case BeginExercise() if is_put_aside(draft):
                return self._lay(draft, self._practice, state, state.number)
            case BeginExercise() if state.waits:
                return told(draft, "This coupon comes first: finish it and say what is wrong.", alarm=True)
            case BeginExercise():
                # After the last one, all over again.
                return self._lay(draft, self._practice, state, state.number % state.total + 1)
            case AnswerExercise(diagnosis=diagnosis) if state.waits:
                if not draft.closed or draft.session != state.session:
                    return told(draft, "The coupon is not finished yet.", alarm=True)
                judgement = judge(self._practice.exercises[state.number - 1], diagnosis)
                return replace(
                    draft, practice=replace(state, judgement=judgement, solved=state.solved + judgement.right)
                )
            case AnswerExercise():
                return told(draft, "There is no coupon to say it of.", alarm=True)
            case _:
                return draft

    def _lay(self, draft: Snapshot, practice: Practice, state: PracticeSlice, number: int) -> Snapshot:
        """Lay this exercise on the bench."""
        solved = 0 if number == 1 else state.solved
        self._post(OpenSession(opened=practice.lay(practice.exercises[number - 1])))
        return replace(draft, practice=PracticeSlice(total=state.total, number=number, solved=solved))

"""The practice desk: lays one exercise after the other on the simulated bench, and judges what the person says.

Input: commands. Output: the next snapshot's `practice`, and a session opened for each exercise.
"""

from collections.abc import Callable

from msgspec import Struct
from msgspec.structs import replace

from core.records import Opened
from core.said import NOTHING, Part, said
from ui.bench.desks.measuring import (
    OpenSession,
)
from ui.bench.practice import Diagnosis, Exercise, judge
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import Begun
from ui.state import Command, PracticeSlice, Snapshot


class StopHand(Command, frozen=True, kw_only=True):
    """The person takes over from the simulated hand."""


class HandSays(Command, frozen=True, kw_only=True):
    """What the simulated hand is doing, in words; empty when it has let go."""

    text: Part


class BeginExercise(Command, frozen=True, kw_only=True):
    """Practice: the next unknown machine's coupon, on the simulated bench."""


class AnswerExercise(Command, frozen=True, kw_only=True):
    """Practice: what the person says is wrong."""

    diagnosis: Diagnosis


class Practice(Struct, frozen=True, kw_only=True):
    """The exercises, and what lays one on the simulated bench and says how its session begins."""

    exercises: tuple[Exercise, ...]
    lay: Callable[[Exercise], Opened]


class PracticeDesk(Desk):
    """The simulated bench: without one there is nothing to practise on. `stop_hand` lets the simulated hand go."""

    def __init__(
        self, practice: Practice | None, post: Callable[[Command], None], stop_hand: Callable[[], None]
    ) -> None:
        self._practice = practice
        self._post = post
        self._stop_hand = stop_hand
        self.takes = {
            HandSays: lambda draft, hand: replace(draft, hand=hand.text),
            StopHand: self._stop,
            BeginExercise: self._begin,
            AnswerExercise: self._judge,
        }
        self.hears = {Begun: self._begun}

    def _stop(self, draft: Snapshot, _stop: StopHand) -> Snapshot:
        self._stop_hand()
        return replace(draft, hand=NOTHING)

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        state = draft.practice
        if state is None or not state.waits or state.session:
            return draft
        text = said(
            "Practice, coupon {number} of {total}: it is measured first, then say what is wrong.",
            number=state.number,
            total=state.total,
        )
        return told(replace(draft, practice=replace(state, session=begun.session)), text)

    def _begin(self, draft: Snapshot, _begin: BeginExercise) -> Snapshot:
        state = draft.practice
        if self._practice is None or state is None:
            return draft
        if draft.exercise_is_put_aside:
            return self._lay(draft, self._practice, state, state.number)
        if state.waits:
            return told(draft, said("This coupon comes first: finish it and say what is wrong."), alarm=True)
        # After the last one, all over again.
        return self._lay(draft, self._practice, state, state.number % state.total + 1)

    def _judge(self, draft: Snapshot, answer: AnswerExercise) -> Snapshot:
        state = draft.practice
        if self._practice is None or state is None:
            return draft
        if not state.waits:
            return told(draft, said("There is no coupon to say it of."), alarm=True)
        if not draft.closed or draft.session != state.session:
            return told(draft, said("The coupon is not finished yet."), alarm=True)
        judgement = judge(self._practice.exercises[state.number - 1], answer.diagnosis)
        return replace(draft, practice=replace(state, judgement=judgement, solved=state.solved + judgement.right))

    def _lay(self, draft: Snapshot, practice: Practice, state: PracticeSlice, number: int) -> Snapshot:
        """Lay this exercise on the bench."""
        solved = 0 if number == 1 else state.solved
        self._post(OpenSession(opened=practice.lay(practice.exercises[number - 1])))
        return replace(draft, practice=PracticeSlice(total=state.total, number=number, solved=solved))

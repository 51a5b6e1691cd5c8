"""The witness desk: what tells the direction of a skew beside the readings, from the person to the session.

Input: commands. Output: tasks for the archive; what follows from an answer is derived from the session, once it is
stored. A witness may be called after the coupon is finished: its verdict does not rest on it.
"""

from core.errors import BadInputError
from core.geometry import Feature
from core.machine import Overhang, StepGauge
from core.machine.reversal_check import reversal_check
from core.metrology import Light
from core.records import QUESTION_TRIAL_STEP, QUESTION_TRY_SQUARE, YES, Payload, QuestionAnswered, ReversalFound
from core.said import NOTHING, Part, said
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import append
from ui.bench.workers.archive_thread import Outbox
from ui.state import Command, Snapshot


class SeeLight(Command, frozen=True, kw_only=True):
    """Where light showed between a try square and the coupon at a corner, NL or NR."""

    corner: Feature
    light: Light


class FindByReversal(Command, frozen=True, kw_only=True):
    """The step or gap that a reversal check of this coupon found over its longer edges."""

    step_mm: float
    overhang: Overhang
    gauge: StepGauge


class TryAStep(Command, frozen=True, kw_only=True):
    """The person has looked at names and mark once more and wants a part of the move without a witness."""


class WitnessDesk(Desk):
    """Keeps nothing: every answer is an event of the session."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self.takes = {SeeLight: self._light, FindByReversal: self._reversal, TryAStep: self._trial}

    def _light(self, draft: Snapshot, seen: SeeLight) -> Snapshot:
        return self._store(
            draft, QuestionAnswered(question=QUESTION_TRY_SQUARE, answer=seen.light, feature=seen.corner)
        )

    def _reversal(self, draft: Snapshot, found: FindByReversal) -> Snapshot:
        if draft.coupon is None:
            return told(draft, _NO_COUPON, alarm=True)
        length_mm = max(draft.coupon.width_mm, draft.coupon.height_mm)
        try:
            check = reversal_check(length_mm, found.step_mm, found.overhang, found.gauge)
        except BadInputError as error:
            return told(draft, error.what, alarm=True)
        event = ReversalFound(length_mm=length_mm, step_mm=found.step_mm, overhang=found.overhang, gauge=found.gauge)
        return self._store(draft, event, check.text)

    def _trial(self, draft: Snapshot, _wanted: TryAStep) -> Snapshot:
        return self._store(draft, QuestionAnswered(question=QUESTION_TRIAL_STEP, answer=YES))

    def _store(self, draft: Snapshot, payload: Payload, text: Part = NOTHING) -> Snapshot:
        if draft.session is None:
            return told(draft, _NO_COUPON, alarm=True)
        self._outbox.submit(append(draft.session, payload))
        return told(draft, text) if text else draft


_NO_COUPON = said("There is no coupon on the bench: a witness speaks of one.")

"""What the lamp box says for a snapshot, and what its buttons mean: pure functions, no pin, no clock.

Stage: ui. Input: the bench's snapshots, and which instrument is in the person's hand (the one with the large digits).
Output: lamps, buzzer rhythms, commands.
"""

from __future__ import annotations

from core.metrology.live import LiveState
from core.metrology.readings import Quantity
from core.metrology.verdict import Verdict
from hardware.panel import Lamps, Rhythm
from hardware.pins import Line
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, ConfirmMark, VoidReading
from ui.state.messages import Command
from ui.state.snapshot import Live, Snapshot

_OF_LIVE = {
    LiveState.INSIDE: Lamps.GO,
    LiveState.NEAR_LIMIT: Lamps.UNDECIDED,
    LiveState.OUTSIDE: Lamps.NO_GO,
}
_OF_VERDICT = {
    Verdict.GO: Lamps.GO,
    Verdict.NO_GO: Lamps.NO_GO,
    Verdict.UNDECIDED: Lamps.UNDECIDED,
    Verdict.INCONSISTENT: Lamps.CONTRADICTION,
}
_ANNOUNCED = {Verdict.GO: Rhythm.GO, Verdict.NO_GO: Rhythm.NO_GO}


def lamps(snapshot: Snapshot, in_hand: Quantity) -> Lamps:
    """The lamp for this snapshot.

    While the instrument in hand is at a feature: that feature. Otherwise the coupon's headline. Off when there is
    neither; a stale indication says nothing.
    """
    state = _live(snapshot, in_hand).state
    if state in _OF_LIVE and not snapshot.closed:
        return _OF_LIVE[state]
    return Lamps.OFF if snapshot.verdict is None else _OF_VERDICT[snapshot.verdict]


def rhythm(before: Snapshot, now: Snapshot) -> Rhythm | None:
    """What the buzzer says on the step from one snapshot to the next; only the weightiest word is said."""
    if now.verdict is Verdict.INCONSISTENT and before.verdict is not Verdict.INCONSISTENT:
        return Rhythm.CONTRADICTION
    if _is_settled(now) and not (_is_settled(before) and before.verdict == now.verdict) and now.verdict in _ANNOUNCED:
        return _ANNOUNCED[now.verdict]
    if now.message is not None and now.message.alarm and now.message != before.message:
        return Rhythm.REFUSED
    if now.question is not None and now.question != before.question:
        return Rhythm.QUESTION
    if now.session == before.session and len(now.readings) > len(before.readings):
        return Rhythm.TAKEN
    return None


def command_of(button: Line, snapshot: Snapshot, in_hand: Quantity) -> Command | None:
    """What a pressed button means at this moment; None where it means nothing.

    Pedal: take the indication of the instrument in hand; with none there the bench says so. Confirm: the first choice
    where the screen asks between two (a choice among more is never made blindly), and before the first reading, that
    the mark lies as asked. Void: the last reading that counts.
    """
    if snapshot.session is None or snapshot.closed:
        return None
    match button:
        case Line.PEDAL:
            return TakeReading(quantity=in_hand)
        case Line.CONFIRM:
            return _confirm(snapshot)
        case _:
            counting = [reading.number for reading in snapshot.readings if reading.voided is None]
            return VoidReading(number=counting[-1], reason="void button") if counting else None


def _confirm(snapshot: Snapshot) -> Command | None:
    question = snapshot.question
    if question is None:
        return None if snapshot.mark_confirmed or snapshot.readings else ConfirmMark()
    if len(question.choices) != 2:
        return None
    return AnswerQuestion(question=question.name, answer=question.choices[0][0])


def _live(snapshot: Snapshot, in_hand: Quantity) -> Live:
    return snapshot.live_length if in_hand is Quantity.LENGTH else snapshot.live_corner


def _is_settled(snapshot: Snapshot) -> bool:
    return snapshot.evaluation is not None and snapshot.evaluation.settled

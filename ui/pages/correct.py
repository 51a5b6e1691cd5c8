"""What the correction screen says and offers at each stage of the guided correction.

Stage: screen. Input: Snapshot. Output: CorrectPage. Units mm. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from core.machine.directions import Direction, Side
from core.machine.gantry_correction import Correction, Refusal, RefusalReason
from core.machine.guided_correction import STEP_OF_STAGE, GuidedState
from core.machine.guided_wording import DONE_WORDS, sentences, title
from core.machine.move_order import MoveOrder
from core.machine.parallelism import NullReading
from core.machine.procedure import Stage
from core.metrology.live import LiveState
from core.metrology.readings import Quantity
from core.said import Length, Part, lines
from ui.pages.live_cursor import dashes, decimals_of, digits_text
from ui.pages.practice import BACK_TO_IT, NOT_YET
from ui.state.snapshot import Snapshot

# The stable name of each action and its words.
Actions: TypeAlias = tuple[tuple[str, Part | str], ...]
CORRECT_DESIGN = ("design", "Correct the design")
GIVE_UP_REASONS = (
    ("nothing was loosened", "Nothing was loosened"),
    ("loosened, not set", "Loosened, not set"),
    ("set and tight", "Set and tight again"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """What the drawing shows: which end goes which way, and its words with their caution."""

    end: Side
    direction: Direction
    text: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectPage:
    """`gap_digits` is the live gap, empty where none is read; `actions` are (stable name, words), the first the main
    one; `meter` how far there is to go, None before it is known; `inside_mm` the meter's zone."""

    title: Part | str
    text: Part | str
    move: Move | None
    meter: NullReading | None
    inside_mm: float
    gap_digits: str
    actions: Actions


def correct_page(snapshot: Snapshot) -> CorrectPage:
    """Everything the correction screen shows."""
    guided = snapshot.machines.guided
    return _before(snapshot) if guided is None else _under_way(snapshot, guided)


def _before(snapshot: Snapshot) -> CorrectPage:
    title: Part | str
    text: Part | str
    actions: Actions
    correction = None if snapshot.exercise_is_open else snapshot.machines.correction
    match correction:
        case None if snapshot.exercise_is_open:
            title, text, actions = "The exercise comes first", NOT_YET, (BACK_TO_IT,)
        case Correction():
            title, text = "What would make it square", lines(*correction.sentences)
            actions = (("begin", "Begin the correction"), CORRECT_DESIGN)
            if snapshot.machines.current is None:
                actions = (("machine", "Describe the machine first"), CORRECT_DESIGN)
        case Refusal():
            title, text = "No correction", correction.text
            actions = (("measure", "Back to measuring"),)
            if correction.reason in (RefusalReason.NOT_ADJUSTABLE, RefusalReason.LEAST_COUNT):
                actions = (CORRECT_DESIGN, *actions)
            if correction.reason is RefusalReason.MARK_NOT_CONFIRMED:
                actions = (("confirm", "The mark lies beside NL"), ("measure", "Back to measuring"))
        case None if snapshot.evaluation is None:
            title, text = "No correction yet", "Measure a coupon first: it says how far out of square the machine is."
            actions = (("coupon", "Measure a coupon"),)
        case None:
            title, text = "No machine described", "A correction needs to know the machine: its gantry and its span."
            actions = (("machine", "Describe the machine"),)
    return CorrectPage(
        title=title, text=text, move=_move(correction), meter=None, inside_mm=0.0, gap_digits="", actions=actions
    )


def _move(correction: Correction | Refusal | None) -> Move | None:
    if not isinstance(correction, Correction):
        return None
    return Move(end=correction.end, direction=correction.direction, text=correction.order.caption)


def _under_way(snapshot: Snapshot, guided: GuidedState) -> CorrectPage:
    target = guided.target
    return CorrectPage(
        title=title(guided),
        text=lines(*sentences(guided, _gap_mm(snapshot))),
        move=_move_now(snapshot, guided),
        meter=_meter(snapshot, guided),
        inside_mm=target.inside_mm if target else 0.0,
        gap_digits=_gap_digits(snapshot) if guided.gap_end or guided.stage is Stage.SET else "",
        actions=_actions(guided),
    )


def _move_now(snapshot: Snapshot, guided: GuidedState) -> Move | None:
    """What is to be moved from where the gantry is now, by the live gap; once it is tight no move stands anywhere."""
    to_go = guided.to_go(_gap_mm(snapshot))
    if to_go is None:
        return None
    end, way = guided.begun.end, to_go.direction
    order = MoveOrder(end=end, direction=way, move=Length(to_go.to_go_mm), part=guided.profile.holding.part)
    return Move(end=end, direction=way, text=order.caption)


def _gap_mm(snapshot: Snapshot) -> float | None:
    live = snapshot.live_length
    return None if live.state in (LiveState.ABSENT, LiveState.STALE) else live.value


def _gap_digits(snapshot: Snapshot) -> str:
    gap_mm, decimals = _gap_mm(snapshot), decimals_of(snapshot.live_length, snapshot)
    notation = snapshot.settings.notation
    if gap_mm is None:
        return dashes(Quantity.LENGTH, decimals, notation)
    return digits_text(snapshot.live_length, decimals, notation)


def _meter(snapshot: Snapshot, guided: GuidedState) -> NullReading | None:
    """While it is set, the meter follows the calipers at the end that moves."""
    return guided.to_go(_gap_mm(snapshot))


def _actions(guided: GuidedState) -> Actions:
    give_up = ("give-up", "Give up")
    if guided.stage is Stage.CAUTIONS:
        return (("done", "Read and done"), give_up)
    if guided.stage in (Stage.DONE, Stage.VOID):
        return (("coupon", "Measure the new coupon"),)
    if guided.gap_end is not None:
        return (("take", "Take the gap"), ("type", "Type the gap"), give_up)
    assert guided.stage in STEP_OF_STAGE
    done = ("done", DONE_WORDS[guided.stage])
    if guided.stage is Stage.PLAY:
        return (done, ("cured", "Play found and cured"), give_up)
    return (done, give_up)

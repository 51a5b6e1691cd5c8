"""What the correction screen says and offers at each stage of the guided correction.

Stage: screen. Input: Snapshot. Output: CorrectPage. Units mm. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.machine.directions import Direction, Side
from core.machine.gantry_correction import Correction, Refusal, RefusalReason
from core.machine.guided_correction import STEP_OF_STAGE, GuidedState, Stage
from core.machine.guided_wording import TITLES, sentences
from core.machine.parallelism import NullReading
from core.metrology.live import LiveState
from core.metrology.readings import Quantity
from ui.pages.live_cursor import dashes, decimals_of, digits_text
from ui.pages.practice import BACK_TO_IT, NOT_YET
from ui.state.snapshot import Snapshot

DONE_WORDS = {
    Stage.PLAY: "No play found",
    Stage.LOOSEN: "Loosened",
    Stage.SET: "Set",
    Stage.TIGHTEN: "Tightened",
    Stage.RUN: "Ran it by hand",
    Stage.REALIGN: "Re-aligned",
    Stage.RECUT: "The next coupon is cut",
}
CORRECT_DESIGN = ("design", "Correct the design")
GIVE_UP_REASONS = (
    ("nothing was loosened", "Nothing was loosened"),
    ("loosened, not set", "Loosened, not set"),
    ("set and tight", "Set and tight again"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """What the drawing shows: which end goes which way, and the words of it."""

    end: Side
    direction: Direction
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectPage:
    """`gap_digits` is the live gap, empty where none is read; `actions` are (stable name, words), the first the main
    one; `meter` what is left to go, None before it is known; `inside_mm` the meter's zone."""

    title: str
    text: str
    move: Move | None
    meter: NullReading | None
    inside_mm: float
    gap_digits: str
    actions: tuple[tuple[str, str], ...]


def correct_page(snapshot: Snapshot) -> CorrectPage:
    """Everything the correction screen shows."""
    guided = snapshot.machines.guided
    return _before(snapshot) if guided is None else _under_way(snapshot, guided)


def _before(snapshot: Snapshot) -> CorrectPage:
    actions: tuple[tuple[str, str], ...]
    correction = None if snapshot.exercise_is_open else snapshot.machines.correction
    match correction:
        case None if snapshot.exercise_is_open:
            title, text, actions = "The exercise comes first", NOT_YET, (BACK_TO_IT,)
        case Correction():
            title, text = "What would make it square", "\n".join(correction.sentences)
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
    amount = f"{correction.move_mm.value:.2f} ± {correction.move_mm.U95:.2f} mm"
    return Move(
        end=correction.end,
        direction=correction.direction,
        text=f"{correction.end} end {amount} {correction.direction.words}",
    )


def _under_way(snapshot: Snapshot, guided: GuidedState) -> CorrectPage:
    begun, target = guided.begun, guided.target
    words = f"{begun.end} end {begun.move_mm:.2f} mm {begun.direction.words}"
    return CorrectPage(
        title=TITLES[guided.stage],
        text="\n".join(sentence for sentence in sentences(guided) if sentence),
        move=Move(end=begun.end, direction=begun.direction, text=words),
        meter=_meter(snapshot, guided),
        inside_mm=target.inside_mm if target else 0.0,
        gap_digits=_gap_digits(snapshot) if guided.gap_end or guided.stage is Stage.SET else "",
        actions=_actions(guided),
    )


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
    gap_mm = _gap_mm(snapshot)
    if guided.stage is Stage.SET and gap_mm is not None:
        return guided.live(guided.begun.end, gap_mm)
    return guided.meter


def _actions(guided: GuidedState) -> tuple[tuple[str, str], ...]:
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

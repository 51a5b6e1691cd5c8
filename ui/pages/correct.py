"""What the correction screen says and offers at each stage of the guided correction.

Stage: screen. Input: Snapshot, and a gap that is being keyed in. Output: CorrectPage. Units mm. No widget in here.
"""

from typing import TypeAlias

from msgspec import Struct

from core.machine import (
    BEFORE_HANDS,
    DONE_WORDS,
    STEP_OF_STAGE,
    Caution,
    Correction,
    GuidedState,
    Refusal,
    RefusalReason,
    Side,
    Stage,
    first_orders,
    power_sentence,
    sentences,
    title,
)
from core.metrology import LiveState, Quantity
from core.said import NOTHING, Part, Said, lines, paragraph, said
from ui.pages.live_cursor import dashes, decimals_of, digits_text
from ui.pages.practice import BACK_TO_IT, EXERCISE_FIRST, NOT_YET
from ui.pages.setting import WAY_WORD, Setting, ToGo, gap_at_hand, setting_before, setting_now, to_go_now
from ui.pages.what_to_do import ANSWERABLE, is_corrected
from ui.state import Snapshot

# The stable name of each action and its words.
Actions: TypeAlias = tuple[tuple[str, Part], ...]
CORRECT_DESIGN = ("design", said("Correct the design"))
GIVE_UP = ("give-up", said("Give up"))
DETAILS = ("details", said("Details"))
GIVE_UP_REASONS = (
    ("nothing was loosened", said("Nothing was loosened")),
    ("loosened, not set", said("Loosened, not set")),
    ("set and tight", said("Set and tight again")),
)
# What the finger is asked for at each caution: the thing that is drawn.
TOUCH_WORDS: dict[str, Said] = {
    "power-off": said("Then touch the plug."),
    "still-off": said("Then touch the plug."),
    "stored-energy": said("Then touch the spring."),
    "slowly": said("Then touch the hand."),
    "blade-out": said("Then touch the cutter."),
    "hands-out": said("Then touch the hand."),
    "laser-covers": said("Then touch the glasses."),
    "laser-mirrors": said("Then touch the mirror."),
    "laser-cutting": said("Then touch the extinguisher."),
    "laser-material": said("Then touch the sheet."),
    "router-cutting": said("Then touch the head."),
    "blade-cutting": said("Then touch the clamps."),
    "maker-first": said("Then touch the book."),
}


class CautionCard(Struct, frozen=True, kw_only=True):
    """A caution to itself: seven words, the rest, and what is touched when it is so. `number` tells it from the one
    before, however many were heeded."""

    caution: Caution
    touch: Said
    number: int


class CorrectPage(Struct, frozen=True, kw_only=True):
    """One step a screen. `title` is the order, or what is to be known, `step` its place among all, `power` the state of
    power during it, `text` the rest that is read at once, `details` everything, for who wants it.

    `setting` is drawn with the figures of `to_go`; `gap` is the live gap where one is read, else empty. `actions` are
    (stable name, words), the last the main one. `heard`: a caliper is on its cable.
    """

    title: Part
    step: Said
    power: Said
    text: Part
    details: Part
    caution: CautionCard | None
    setting: Setting | None
    to_go: ToGo | None
    gap: str
    heard: bool
    actions: Actions

    @property
    def inside(self) -> bool:
        """Whether it is to be stopped and tightened now."""
        return self.setting is not None and self.setting.inside


def correct_page(snapshot: Snapshot, typed_mm: float | None = None) -> CorrectPage:
    """Everything the correction screen shows; `typed_mm` is a gap keyed in where no caliper is heard."""
    guided = snapshot.machines.guided
    return _before(snapshot) if guided is None else _under_way(snapshot, guided, typed_mm)


def _before(snapshot: Snapshot) -> CorrectPage:
    title: Part
    text: Part
    actions: Actions
    correction = None if snapshot.exercise_is_open else snapshot.machines.correction
    match correction:
        case None if snapshot.exercise_is_open:
            title, text, actions = EXERCISE_FIRST, NOT_YET, (BACK_TO_IT,)
        case Correction():
            title, text = _move_title(correction), paragraph(correction.order.condition, BEFORE_HANDS)
            actions = (CORRECT_DESIGN, DETAILS, ("begin", said("Begin the correction")))
            if snapshot.machines.current is None:
                actions = (CORRECT_DESIGN, DETAILS, ("machine", said("Describe the machine first")))
        case Refusal():
            title, text = said("No correction"), correction.text
            actions = (("bench", said("Back to measuring")),)
            if is_corrected(snapshot):
                title, actions = said("Now the new coupon"), (("coupon", said("Next coupon")),)
            if correction.reason in (RefusalReason.NOT_ADJUSTABLE, RefusalReason.LEAST_COUNT):
                actions = (*actions, CORRECT_DESIGN)
            if correction.reason in ANSWERABLE:
                actions = (*actions, ("witness", said("Answer one question")))
        case None if snapshot.evaluation is None:
            title = said("No correction yet")
            text = said("Measure a coupon first: it says how far out of square the machine is.")
            actions = (("coupon", said("Measure a coupon")),)
        case None:
            title = said("No machine described")
            text = said("A correction needs to know the machine: its gantry and its span.")
            actions = (("machine", said("Describe the machine")),)
    ready = correction if isinstance(correction, Correction) else None
    return CorrectPage(
        title=title,
        step=NOTHING,
        power=NOTHING,
        text=text,
        details=lines(*ready.sentences) if ready else NOTHING,
        caution=None,
        setting=setting_before(ready) if ready else None,
        to_go=None,
        gap="",
        heard=_heard(snapshot),
        actions=actions,
    )


def _move_title(correction: Correction) -> Said:
    """Which end goes how far and which way: read from afar; what comes before it stands below."""
    parts: dict[str, Part] = {"move": correction.order.move, "way": WAY_WORD[correction.direction]}
    match correction.end:
        case Side.LEFT:
            return said("LEFT end {move} {way}", **parts)
        case Side.RIGHT:
            return said("RIGHT end {move} {way}", **parts)
        case Side.NEAR:
            return said("NEAR end {move} {way}", **parts)
        case Side.FAR:
            return said("FAR end {move} {way}", **parts)


def _under_way(snapshot: Snapshot, guided: GuidedState, typed_mm: float | None) -> CorrectPage:
    gap_mm = typed_mm if _gap_mm(snapshot) is None else _gap_mm(snapshot)
    setting = setting_now(guided, gap_mm)
    return CorrectPage(
        title=said("STOP, TIGHTEN") if setting is not None and setting.inside else _title(guided),
        step=_step(guided),
        power=power_sentence(guided) if guided.caution is None else NOTHING,
        text=guided.caution.text if guided.caution else first_orders(guided),
        details=paragraph(*sentences(guided, gap_at_hand(guided, gap_mm))),
        caution=_card(guided),
        setting=setting,
        to_go=to_go_now(guided, gap_mm, snapshot.settings.notation),
        gap=_gap_digits(snapshot) if guided.gap_end else "",
        heard=_heard(snapshot),
        actions=_actions(guided),
    )


def _title(guided: GuidedState) -> Said:
    return guided.caution.short if guided.caution else title(guided)


def _step(guided: GuidedState) -> Said:
    if guided.step is None:
        return NOTHING
    return said("step {step} of {steps}", step=guided.number + 1, steps=len(guided.steps))


def _card(guided: GuidedState) -> CautionCard | None:
    caution = guided.caution
    if caution is None:
        return None
    return CautionCard(caution=caution, touch=TOUCH_WORDS[caution.name], number=len(guided.acknowledged))


def _heard(snapshot: Snapshot) -> bool:
    return _gap_mm(snapshot) is not None


def _gap_mm(snapshot: Snapshot) -> float | None:
    live = snapshot.live_length
    return None if live.state in (LiveState.ABSENT, LiveState.STALE) else live.value


def _gap_digits(snapshot: Snapshot) -> str:
    gap_mm, decimals = _gap_mm(snapshot), decimals_of(snapshot.live_length, snapshot)
    notation = snapshot.settings.notation
    if gap_mm is None:
        return dashes(Quantity.LENGTH, decimals, notation)
    return digits_text(snapshot.live_length, decimals, notation)


def _actions(guided: GuidedState) -> Actions:
    if guided.stage is Stage.CAUTIONS:
        return (GIVE_UP,)
    if guided.stage in (Stage.DONE, Stage.VOID):
        return (("coupon", said("Measure the new coupon")),)
    if guided.gap_end is not None:
        return (GIVE_UP, DETAILS, ("type", said("Type the gap")), ("take", said("Take the gap")))
    assert guided.stage in STEP_OF_STAGE
    done = ("done", DONE_WORDS[guided.stage])
    if guided.stage is Stage.PLAY:
        return (GIVE_UP, DETAILS, ("cured", said("Play found and cured")), done)
    return (GIVE_UP, DETAILS, done)

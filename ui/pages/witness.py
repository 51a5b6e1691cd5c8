"""What a move needs beside the readings: the one question to be answered now, or the ways there are to a witness.

Stage: screen. Input: Snapshot, and the way that the person chose. Output: WitnessPage; what a choice means is a
command, another question, or a screen. No widget in here. No page of it names a direction: it would lead the answer.
"""

from enum import StrEnum

from msgspec import Struct

from core.geometry import Feature
from core.machine import Overhang, Refusal, StepGauge, cautions_of_cutting, fence_steps, reversal_steps
from core.metrology import (
    TRIAL_SHARE,
    CharacteristicGroup,
    Light,
    MarkSeen,
    MoveEvidence,
    MoveHeld,
    Verdict,
    WitnessKind,
    light_can_tell,
    move_evidence,
    trial_share,
)
from core.said import NOTHING, Part, Said, said
from ui.bench import ConfirmMark, FindByReversal, SeeLight, TryAStep
from ui.pages.cutting import BEFORE, NEXT
from ui.pages.practice import BACK_TO_IT, EXERCISE_FIRST, NOT_YET
from ui.pages.what_to_do import ANSWERABLE
from ui.state import Command, Snapshot


class Ask(StrEnum):
    """What is asked: the way to a witness, or the question of one way."""

    WAYS = "ways"
    MARK = "mark"
    LIGHT_NL = "light-nl"
    LIGHT_NR = "light-nr"
    PENCIL = "pencil"
    FEELERS = "feelers"
    TRIAL = "trial"
    NOTHING = "nothing"


# Choices that lead to a screen of that name.
SCREENS = ("bench", "correct", "coupon", "practice")
Choices = tuple[tuple[str, Part], ...]
# At the left: where it is touched, the button that begins the correction must not come up.
SEE_THE_MOVE: Choices = (("correct", said("See the move")), ("bench", said("Back to measuring")))


class WitnessPage(Struct, frozen=True, kw_only=True):
    """One question. `choices` are (stable name, words); `number` names what is typed before one of them counts."""

    asks: Ask
    title: Part
    text: Part
    choices: Choices
    number: Said = NOTHING


def witness_is_wanted(snapshot: Snapshot) -> bool:
    """Whether squareness is NO-GO for good and an answer is missing for the move to be said."""
    evaluation, correction = snapshot.evaluation, snapshot.machines.correction
    if evaluation is None or snapshot.exercise_is_open:
        return False
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    if isinstance(correction, Refusal):
        return squareness.verdict is Verdict.NO_GO and correction.reason in ANSWERABLE
    return False


def witness_page(snapshot: Snapshot, way: Ask = Ask.WAYS, step: int = 0) -> WitnessPage:
    """The question that is up; `way` is the one chosen, as long as no witness speaks yet, `step` how many of its steps
    are done."""
    evaluation = snapshot.evaluation
    if snapshot.exercise_is_open:
        return _nothing(EXERCISE_FIRST, NOT_YET, (BACK_TO_IT,))
    if evaluation is None:
        return _nothing(said("Nothing is measured yet"), NOTHING, (("bench", said("Back to measuring")),))
    evidence = move_evidence(evaluation, snapshot.answers)
    match evidence.held:
        case None if way is Ask.WAYS or evidence.witness is not WitnessKind.TRIAL_STEP:
            return _nothing(said("Enough is known for a move"), _found(evidence), SEE_THE_MOVE)
        case MoveHeld.MARK_NOT_CONFIRMED:
            return _mark_page(_MARK_WHY)
        case MoveHeld.MARK_UNKNOWN:
            return _mark_page(evidence.why)
        case None | MoveHeld.NO_WITNESS | MoveHeld.DISAGREE if not evaluation.skew_by.disagree:
            return _way_page(snapshot, evidence, way, step)
    return _nothing(said("No move"), evidence.why, (("bench", said("Back to measuring")),))


def answer(snapshot: Snapshot, asks: Ask, choice: str, number_mm: float | None = None) -> Command | Ask | Said:
    """What a choice means: a command, the next question, or the sentence that says what is missing."""
    if choice in set(Ask):
        return Ask(choice)
    match asks:
        case Ask.MARK:
            return ConfirmMark(corner=MarkSeen(choice))
        case Ask.LIGHT_NL | Ask.LIGHT_NR:
            corner = Feature.NL if asks is Ask.LIGHT_NL else Feature.NR
            return SeeLight(corner=corner, light=Light(choice))
        case Ask.PENCIL | Ask.FEELERS:
            outside, _, gauge = choice.partition("-")
            overhang = Overhang(outside)
            if overhang is not Overhang.NONE and number_mm is None:
                step, gap = said("Type the step first: touch the field."), said("Type the gap first: touch the field.")
                return step if asks is Ask.FEELERS else gap
            step_mm = 0.0 if overhang is Overhang.NONE or number_mm is None else number_mm
            return FindByReversal(step_mm=step_mm, overhang=overhang, gauge=StepGauge(gauge))
        case _:
            return TryAStep()


def way_after(asks: Ask) -> Ask:
    """The question that follows an answer of the same way."""
    return Ask.LIGHT_NR if asks is Ask.LIGHT_NL else Ask.WAYS


def _nothing(title: Said, text: Part, choices: Choices) -> WitnessPage:
    return WitnessPage(asks=Ask.NOTHING, title=title, text=text, choices=choices)


def _found(evidence: MoveEvidence) -> Said:
    match evidence.witness:
        case WitnessKind.KEYED_SEATS:
            return said("The seats prove which diagonal is which.")
        case WitnessKind.CORNERS:
            return said("Lengths and corners lean the same way.")
        case WitnessKind.REVERSAL:
            return said("The reversal check agrees with the diagonals.")
        case WitnessKind.TRY_SQUARE:
            return said("The try square shows the same lean as the diagonals.")
        case WitnessKind.FORETOLD:
            return said("The trial step changed the skew as foretold.")
        case _:
            return said("No witness: a trial step only. The next coupon decides.")


_MARK_WHY = said("A design turned in the cutting software turns the mark with it.")


def _mark_page(text: Said) -> WitnessPage:
    # In rows of three they lie as on the bed: far above near.
    choices: Choices = (
        (MarkSeen.FL, said("Far left")),
        (MarkSeen.FR, said("Far right")),
        (MarkSeen.MIRRORED, said("Mirrored")),
        (MarkSeen.NL, said("Near left")),
        (MarkSeen.NR, said("Near right")),
        (MarkSeen.UNKNOWN, said("I don't know")),
    )
    title = said("Which corner carried the mark on the bed?")
    return WitnessPage(asks=Ask.MARK, title=title, text=text, choices=choices)


def _way_page(snapshot: Snapshot, evidence: MoveEvidence, way: Ask, step: int) -> WitnessPage:
    match way:
        case Ask.LIGHT_NL:
            return _light_page(way, said("Try square at the near left corner: where is light?"), _AT_NL)
        case Ask.LIGHT_NR:
            return _light_page(way, said("The same at the near right corner: where is light?"), _AT_NR)
        case Ask.PENCIL | Ask.FEELERS:
            return _reversal_page(snapshot, way, step)
        case Ask.TRIAL:
            return _trial_page(snapshot, evidence)
        case _:
            return _ways_page(snapshot, evidence)


def _ways_page(snapshot: Snapshot, evidence: MoveEvidence) -> WitnessPage:
    assert snapshot.evaluation is not None
    choices: list[tuple[str, Part]] = []
    if evidence.read:
        choices.append(("bench", said("Read the corners")))
    if light_can_tell(snapshot.evaluation):
        choices.append((Ask.LIGHT_NL, said("Try square against the light")))
    choices += [
        (Ask.PENCIL, said("Draw along it and turn it over")),
        (Ask.FEELERS, said("Two coupons on one another")),
        (Ask.TRIAL, said("A trial step")),
    ]
    title = said("What tells which way it leans?")
    text = evidence.why if evidence.held is MoveHeld.DISAGREE or snapshot.answers.light_at_nr else _WAYS_WHY
    return WitnessPage(asks=Ask.WAYS, title=title, text=text, choices=tuple(choices))


_WAYS_WHY = said("Exchanged diagonals turn the move round.")
_AT_NL = said("Stock on the near edge, blade on the left, against the light.")
_AT_NR = said("Stock on the near edge, blade on the right, against the light.")


def _light_page(asks: Ask, title: Said, text: Said) -> WitnessPage:
    choices: Choices = (
        (Light.BLADE_END, said("At the blade's end")),
        (Light.CORNER, said("At the corner")),
        (Light.CANNOT_TELL, said("I can't tell")),
    )
    return WitnessPage(asks=asks, title=title, text=text, choices=choices)


def _reversal_page(snapshot: Snapshot, way: Ask, step: int) -> WitnessPage:
    """One step at a time, then what was found. Two coupons are cut first: behind the cautions of cutting."""
    assert snapshot.coupon is not None
    if way is Ask.PENCIL:
        name = said("Draw along it and turn it over")
        steps: tuple[Part, ...] = fence_steps(snapshot.coupon)
        found = WitnessPage(
            asks=way, title=name, text=_SAY_LINE, choices=(*_LINES_FOUND, _BACK), number=said("gap found")
        )
    else:
        name = said("Two coupons on one another")
        cautions = (caution.whole for caution in cautions_of_cutting(snapshot.machines.current))
        steps = (*cautions, *reversal_steps(snapshot.coupon))
        found = WitnessPage(asks=way, title=name, text=_SAY_STEP, choices=(*STEPS_FOUND, _NO_STEP, _BACK), number=STEP)
    if step >= len(steps):
        return found
    title = said("{way}: {number} of {total}", way=name, number=step + 1, total=len(steps))
    back = _BACK if step else (Ask.WAYS, said("Another way"))
    return WitnessPage(asks=way, title=title, text=steps[step], choices=(back, (NEXT, said("Next step"))))


_BACK: tuple[str, Part] = (BEFORE, said("Step back"))
_SAY_LINE = said("Type the gap, then say which line lies outside.")
_LINES_FOUND: Choices = (
    ("lower-lines", said("The first line lies outside")),
    ("upper-lines", said("The second line lies outside")),
    ("none-lines", said("They run together")),
)
_SAY_STEP = said("Type the step, then say which coupon stands out.")
STEP = said("step found")
STEPS_FOUND: Choices = (
    ("lower-feeler", said("Lower out, feeler")),
    ("upper-feeler", said("Upper out, feeler")),
    ("lower-paper", said("Lower out, paper")),
    ("upper-paper", said("Upper out, paper")),
)
_NO_STEP: tuple[str, Part] = ("none-feeler", said("No step"))


def _trial_page(snapshot: Snapshot, evidence: MoveEvidence) -> WitnessPage:
    assert snapshot.evaluation is not None
    ways = len(_ways_page(snapshot, evidence).choices)
    choices = _TRIAL_CHOICES if ways > _FEWEST_WAYS else _TRIAL_CHOICES[::-1]
    quarter = trial_share(snapshot.evaluation.adjustment.skew_deg) <= TRIAL_SHARE
    title = said("Try a quarter of the move?") if quarter else said("Try half of the move?")
    return WitnessPage(asks=Ask.TRIAL, title=title, text=_TRIAL, choices=choices)


_TRIAL = said(
    "Direction not proven: if the diagonals were exchanged, it gets worse. Look once more; cut and measure before the "
    "rest."
)
# The step itself stands where the last of the ways, which led here, did not: of three that lies on the left upright.
_FEWEST_WAYS = 3
_TRIAL_CHOICES: Choices = (
    ("yes", said("I have looked: try it")),
    (Ask.WAYS, said("Another way")),
    ("bench", said("Back to measuring")),
)

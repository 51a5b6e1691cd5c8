"""What the causes screen says and offers: why the coupon came out so, and what else can be tried or told.

Stage: screen. Input: Snapshot and the page in sight. Output: CausesPage, and the command or sentence of an action.
Units mm. No widget in here.
"""

from enum import StrEnum

from msgspec import Struct

from core.geometry import Coupon, Feature
from core.machine import (
    CharacteristicChange,
    CoarseReset,
    Correction,
    DesignCorrection,
    ForetoldReading,
    Gaps,
    HowHeld,
    MachineProfile,
    Side,
    before_cutting,
    before_plucking,
    before_two_gaps,
    coarse_reset,
    diagnose,
    reference_state,
    reversal_steps,
)
from core.said import NOTHING, Angle, Length, Part, Said, lines, said
from ui.bench import (
    BeginCorrectionByReference,
    KeepReference,
    ListenToBelt,
    LogCoarseReset,
    correction_of_design,
)
from ui.pages.correct import CORRECT_DESIGN
from ui.pages.practice import BACK_TO_IT, EXERCISE_FIRST, NOT_YET
from ui.pages.witness import STEP, STEPS_FOUND, Ask, answer
from ui.state import Command, Snapshot


class Page(StrEnum):
    """The pages of the screen."""

    WHY = "why"
    NEXT = "next"
    PROOF = "proof"
    REFERENCE = "reference"
    BELTS = "belts"
    REVERSAL = "reversal"
    RESET = "reset"


PAGE_WORDS = (
    (Page.WHY, said("Why")),
    (Page.NEXT, said("Next coupon")),
    (Page.PROOF, said("Before, after")),
    (Page.REFERENCE, said("Two gaps")),
    (Page.BELTS, said("Belts")),
    (Page.REVERSAL, said("Reversal check")),
    (Page.RESET, said("To the frame")),
)
_RESET_WORDS = ((CoarseReset.FRAME.value, said("Squared to its frame")),)
_NEEDS_COUPON = said("Measure a coupon first.")
_BY_TWO_GAPS = said("Square by two gaps")
_NO_INSTRUMENT = said("Without any instrument")
_GAP_OF = {
    Side.LEFT: said("left gap"),
    Side.RIGHT: said("right gap"),
    Side.NEAR: said("near gap"),
    Side.FAR: said("far gap"),
}


class CausesPage(Struct, frozen=True, kw_only=True):
    """One page: `asks` names the numbers (mm) to type before an action; `actions` are (stable name, words)."""

    title: Part
    text: Part
    asks: tuple[Part, ...] = ()
    actions: tuple[tuple[str, Part], ...] = ()


def causes_page(snapshot: Snapshot, page: Page) -> CausesPage:
    """Everything a page shows."""
    match page:
        case Page.WHY | Page.NEXT if snapshot.exercise_is_open:
            return CausesPage(title=EXERCISE_FIRST, text=NOT_YET, actions=(BACK_TO_IT,))
        case Page.WHY:
            return _why_page(snapshot)
        case Page.NEXT:
            return CausesPage(title=said("What the next coupon should read"), text=lines(*foretold_lines(snapshot)))
        case Page.PROOF:
            return CausesPage(title=said("Before and after"), text=_proof(snapshot))
        case Page.RESET:
            return CausesPage(title=said("Square it to its frame"), text=lines(*coarse_reset()), actions=_RESET_WORDS)
        case Page.REFERENCE:
            return _reference_page(snapshot)
        case Page.BELTS:
            return _belts_page(snapshot)
        case Page.REVERSAL:
            return _reversal_page(snapshot)


def act(snapshot: Snapshot, page: Page, action: str, numbers: tuple[float | None, ...]) -> Command | Part:
    """The command an action means, or the sentence that answers it; `numbers` are those the page asks for."""
    match page:
        case Page.RESET:
            return LogCoarseReset(reset=CoarseReset(action))
        case Page.BELTS:
            return ListenToBelt(first=action == "first")
        case Page.REFERENCE:
            first, second = numbers
            if first is None or second is None:
                return said("Type both gaps first: touch a field.")
            gaps = Gaps(first_mm=first, second_mm=second)
            return KeepReference(gaps=gaps) if action == "keep" else BeginCorrectionByReference(gaps=gaps)
        case Page.REVERSAL:
            meant = answer(snapshot, Ask.FEELERS, action, numbers[0])
            return NOTHING if isinstance(meant, Ask) else meant
        case _:
            return NOTHING


def _why_page(snapshot: Snapshot) -> CausesPage:
    title = said("What the coupon says")
    if snapshot.evaluation is None:
        return CausesPage(title=title, text=_NEEDS_COUPON)
    machine, design = snapshot.machines.current, correction_of_design(snapshot)
    told = list(diagnose(snapshot.evaluation, machine, snapshot.setup).sentences)
    if design is not None and machine is not None and machine.held is HowHeld.NOT_ADJUSTABLE:
        told.append(design.text)
    actions = (CORRECT_DESIGN,) if isinstance(design, DesignCorrection) else ()
    return CausesPage(title=title, text=lines(*told), actions=actions)


def foretold_lines(snapshot: Snapshot) -> list[Part]:
    """The ten readings of the next coupon after the correction, or why they cannot be foretold.

    Once that coupon is read, what was foretold stands beside what came.
    """
    if snapshot.exercise_is_open:
        return [NOT_YET]
    proof = snapshot.records.comparison
    if proof is not None and proof.foretold:
        return [_foretold_line(item) for item in proof.foretold]
    correction = snapshot.machines.correction
    if not isinstance(correction, Correction):
        return [correction.text if correction else said("A prediction needs a judged coupon and a gantry span.")]
    return [
        said(
            "{feature}: {reading}",
            feature=item.feature.label,
            reading=_value(item.feature, item.reading.value, item.reading.U95),
        )
        for item in correction.predicted
    ]


def _foretold_line(item: ForetoldReading) -> Said:
    parts: dict[str, Part] = {
        "feature": item.feature.label,
        "foretold": _value(item.feature, item.foretold.value, item.foretold.U95),
        "read": _value(item.feature, item.read),
    }
    if item.agrees:
        return said("{feature}: foretold {foretold}, read {read}", **parts)
    return said("{feature}: foretold {foretold}, read {read}, NOT as foretold", **parts)


def _value(feature: Feature, value: float, U95: float | None = None) -> Part:
    return Length(value, u_mm=U95) if feature.is_length else Angle(value, u_deg=U95)


def _proof(snapshot: Snapshot) -> Part:
    proof = snapshot.records.comparison
    if proof is None:
        return said("When this coupon is closed it is held against the one before it, or before the last correction.")
    return lines(proof.text, *map(_change_line, proof.characteristics))


def _change_line(item: CharacteristicChange) -> Said:
    before, after, change = (
        Length(one.value, u_mm=u, signed=u is not None)
        if item.unit == "mm"
        else Angle(one.value, u_deg=u, signed=u is not None)
        for one, u in ((item.before, None), (item.after, None), (item.change, item.change.U95))
    )
    label = item.label
    return said(
        "{label}: before {before}, after {after}, change {change}",
        label=label,
        before=before,
        after=after,
        change=change,
    )


def _reference_page(snapshot: Snapshot) -> CausesPage:
    machine = snapshot.machines.current
    if machine is None:
        return CausesPage(title=_BY_TWO_GAPS, text=said("Describe the machine first: its gap points count here."))
    state = reference_state(snapshot.machines.log)
    actions: tuple[tuple[str, Part], ...] = (("keep", said("Remember with this coupon")),)
    if state.kept is not None:
        actions = (("use", said("Set it by these gaps")), *actions)
    first, second = machine.ends
    return CausesPage(
        title=_BY_TWO_GAPS,
        text=lines(*before_two_gaps(machine.held), state.text),
        asks=(_GAP_OF[first], _GAP_OF[second]),
        actions=actions,
    )


def _belts_page(snapshot: Snapshot) -> CausesPage:
    belts = snapshot.belts
    heard = [
        said("{belt}: {note}", belt=belt, note=note.text)
        for belt, note in ((said("Left or near belt"), belts.first), (said("Right or far belt"), belts.second))
        if note is not None
    ]
    listen = (("first", said("Listen: left, near")), ("second", said("Listen: right, far")))
    actions = () if belts.listening else listen
    text = lines(*before_plucking(), *heard, belts.text)
    return CausesPage(title=said("Belts by their note"), text=text, actions=actions)


def _reversal_page(snapshot: Snapshot) -> CausesPage:
    if snapshot.coupon is None:
        return CausesPage(title=_NO_INSTRUMENT, text=said("Begin the coupon first: its size counts here."))
    text = lines(*reversal_in_steps(snapshot.coupon, snapshot.machines.current))
    return CausesPage(title=_NO_INSTRUMENT, text=text, asks=(STEP,), actions=STEPS_FOUND)


def reversal_in_steps(coupon: Coupon, machine: MachineProfile | None) -> tuple[Part, ...]:
    """The cautions of cutting, then the numbered steps of the reversal check."""
    steps = (said("{number}. {step}", number=n, step=step) for n, step in enumerate(reversal_steps(coupon), start=1))
    return (before_cutting(machine), *steps)

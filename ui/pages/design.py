"""What the design screen says and offers: by how much the coupon says a design is to be corrected, and how far it is.

Stage: screen. Input: Snapshot. Output: DesignPage. Units mm and degrees. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.coupon import Coupon
from core.machine.cautions import before_cutting
from core.machine.correction_words import part_sentence, part_side_mm
from core.machine.design_correction import DesignCorrection
from core.machine.gantry_correction import Refusal, RefusalReason
from core.said import Angle, Name, Part, said
from hardware.stick_files import MAX_FILE_BYTES
from ui.bench.desks.design import correction_of_design
from ui.pages.practice import BACK_TO_IT, NOT_YET
from ui.pages.theme import Shape
from ui.pages.wording import below
from ui.state.snapshot import Snapshot
from ui.state.stick import DesignSlice, DesignSource, DesignStage, PreparedDesign

LONGEST_LABEL = 40
COUPON_SUFFIXES = (".svg", ".dxf")
LAMPS = {
    DesignStage.IDLE: (Shape.RING, "NO DESIGN YET", "nothing is changed yet"),
    DesignStage.LOOKING: (Shape.HALF_DIAMOND, "LOOKING", "leave the stick in"),
    DesignStage.FOUND: (Shape.RING, "CHOOSE", "a design, or the coupon"),
    DesignStage.READING: (Shape.HALF_DIAMOND, "READING", "leave the stick in"),
    DesignStage.READY: (Shape.RING, "NOT YET WRITTEN", "look first, then write"),
    DesignStage.WRITING: (Shape.HALF_DIAMOND, "WRITING", "leave the stick in"),
    DesignStage.CHECKING: (Shape.HALF_DIAMOND, "CHECKING", "leave the stick in"),
    DesignStage.DONE: (Shape.DISC, "SAFE TO REMOVE", "written and read back"),
    DesignStage.FAILED: (Shape.CROSSED_SQUARE, "FAILED", "nothing half-written was left"),
}
IN_FOLDER = {DesignStage.DONE: (Shape.DISC, "WRITTEN", "and read back")}
_MAIN = {DesignStage.IDLE: "look", DesignStage.READY: "write"}
REFUSED = (Shape.CROSSED_SQUARE, "NO CORRECTION", "of a design")


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPage:
    """`sources` are what can be chosen with the words on their buttons, `chosen` the name of the one that is;
    `actions` are (stable name, words), `main` the one that is meant most, empty where it is to choose first."""

    shape: Shape
    word: str
    caption: str
    title: str
    text: Part | str
    sources: tuple[tuple[str, Part | str], ...] = ()
    chosen: str = ""
    actions: tuple[tuple[str, str], ...] = ()
    main: str = ""


def sources_of(snapshot: Snapshot) -> tuple[DesignSource, ...]:
    """What can be corrected now: the coupon that proves it, in both formats, and the designs that were found."""
    found = snapshot.design.found
    if found is None or snapshot.coupon is None:
        return ()
    return (*_coupons(snapshot.coupon), *(DesignSource(path=path) for path in found.paths))


def _coupons(coupon: Coupon) -> tuple[DesignSource, ...]:
    size = f"{coupon.width_mm:g}x{coupon.height_mm:g}".replace(".", "_")
    return tuple(DesignSource(path=f"coupon-{size}{suffix}", coupon=coupon) for suffix in COUPON_SUFFIXES)


def design_page(snapshot: Snapshot) -> DesignPage:
    """Everything the design screen shows."""
    correction = correction_of_design(snapshot)
    if snapshot.exercise_is_open:
        return _refusing("The exercise comes first", NOT_YET, (BACK_TO_IT,))
    if not isinstance(correction, DesignCorrection):
        return _refused(correction)
    state = snapshot.design
    shape, word, caption = (IN_FOLDER if state.folder else {}).get(state.stage, LAMPS[state.stage])
    return DesignPage(
        shape=shape,
        word=word,
        caption=caption,
        title=_title(state),
        text=below(*_lines(snapshot, state), *_cautions(snapshot), *_amounts(snapshot, correction)),
        sources=tuple((one.name, _label(one)) for one in sources_of(snapshot)),
        chosen=state.source.name if state.source else "",
        actions=_actions(snapshot, state),
        main=_MAIN.get(state.stage, ""),
    )


def _refused(refusal: Refusal | None) -> DesignPage:
    text: Part | str = "Measure a coupon first: it says by how much the design is to be corrected."
    actions: tuple[tuple[str, str], ...] = (("measure", "Back to measuring"),)
    if refusal is not None:
        text = refusal.text
        if refusal.reason is RefusalReason.MARK_NOT_CONFIRMED:
            actions = (("confirm", "The mark lies beside NL"), *actions)
    return _refusing("No correction", text, actions)


def _refusing(title: str, text: Part | str, actions: tuple[tuple[str, str], ...]) -> DesignPage:
    shape, word, caption = REFUSED
    return DesignPage(
        shape=shape, word=word, caption=caption, title=title, text=text, actions=actions, main=actions[0][0]
    )


def _title(state: DesignSlice) -> str:
    if state.source is not None:
        return _short(state.source.path)
    return "The design in place of the machine"


def _lines(snapshot: Snapshot, state: DesignSlice) -> list[str]:
    """What is to be said at this stage, before the amounts that are the same at all of them."""
    match state.stage:
        case DesignStage.IDLE:
            return [_where(snapshot, state)]
        case DesignStage.FOUND:
            return _found_lines(state)
        case DesignStage.READY if state.prepared is not None:
            return _prepared_lines(state.prepared)
        case DesignStage.DONE:
            return [f"Written as {_short(state.text)}", "Cut it on this machine and no other."]
        case DesignStage.FAILED:
            return [state.text]
        case _:
            return []


def _cautions(snapshot: Snapshot) -> tuple[Part, ...]:
    """Once there is a file to cut."""
    return (before_cutting(snapshot.machines.current),) if snapshot.design.stage is DesignStage.DONE else ()


def _where(snapshot: Snapshot, state: DesignSlice) -> str:
    if state.folder:
        return _where_to(state)
    sticks = snapshot.download.sticks
    if len(sticks) > 1:
        return "More than one stick is plugged in: leave only the one with the design."
    if not sticks:
        return "Plug the USB stick in that has the design on it, SVG or DXF."
    return f"Stick: {sticks[0].label or 'without a name'}."


def _where_to(state: DesignSlice) -> str:
    if state.folder:
        return f"Put the design, SVG or DXF, into the folder {state.folder}"
    return "Save the design as SVG or DXF onto the stick, not deeper than three folders."


def _found_lines(state: DesignSlice) -> list[str]:
    found = state.found
    if found is None:
        return []
    lines = []
    if not found.paths:
        lines = [
            "There is no design in SVG or DXF: the coupon that proves the correction can be had.",
            _where_to(state),
        ]
    if found.too_large:
        lines.append(f"Left out as larger than {MAX_FILE_BYTES // 1024**2} MB: {found.too_large}")
    if found.more:
        lines.append("There are more than are listed: put the design at the top and clear others away.")
    return lines


def _prepared_lines(prepared: PreparedDesign) -> list[str]:
    words = leaning_words(prepared.texts, prepared.circles, prepared.flattened, prepared.left_out)
    return [
        f"It will be written as {_short(prepared.path)}",
        "The original stays as it is.",
        *(f"{one[0].upper()}{one[1:]}." for one in words),
    ]


def _amounts(snapshot: Snapshot, correction: DesignCorrection) -> tuple[Part, ...]:
    part = part_sentence(correction.skew_deg, part_side_mm(snapshot.machines.current))
    skew = correction.skew_deg
    map_sentence, *rest = correction.sentences
    amount = Angle(skew.value, 3, u_deg=skew.U95, signed=True)
    return (said("Skew {skew} is taken out.", skew=amount), part, *rest, map_sentence)


def _actions(snapshot: Snapshot, state: DesignSlice) -> tuple[tuple[str, str], ...]:
    if state.stage.is_busy:
        return ()
    look = ("look", "Look again" if state.found or state.stage is DesignStage.DONE else "Look for designs")
    if state.stage is DesignStage.READY:
        return (("write", "Write the corrected copy"), look)
    return (look,) if state.folder or len(snapshot.download.sticks) == 1 else ()


def _label(source: DesignSource) -> Part | str:
    if source.coupon is not None:
        return f"Coupon to prove it, {source.path.rpartition('.')[2].upper()}"
    return Name(_short(source.path))


def _short(path: str) -> str:
    """A long name by its two ends: what tells it apart often stands last."""
    if len(path) <= LONGEST_LABEL:
        return path
    half = LONGEST_LABEL // 2
    return f"{path[: half - 1]}…{path[-half:]}"


def leaning_words(texts: int, circles: int, flattened: int, left_out: int) -> list[str]:
    """What is different to look at in a corrected file, by how many things."""
    words = []
    if texts:
        words.append(f"{_counted(texts, 'text leans', 'texts lean')} in the file")
    if circles:
        words.append(f"{_counted(circles, 'circle is an ellipse', 'circles are ellipses')} in the file")
    if flattened:
        words.append(f"{_counted(flattened, 'round outline is', 'round outlines are')} short lines in the file")
    if left_out:
        left = _counted(left_out, "thing could not be corrected and stays", "things could not be and stay")
        words.append(f"{left} as drawn: look at it before cutting")
    return words


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"

"""What the design screen says and offers: by how much the coupon says a design is to be corrected, and how far it is.

Stage: screen. Input: Snapshot. Output: DesignPage. Units mm and degrees. No widget in here.
"""

from core.geometry import CorrectedDesign, Coupon
from core.machine import DesignCorrection, Refusal, RefusalReason, part_sentence, part_side_mm
from core.said import NOTHING, Angle, Name, Number, Part, lines as lines_of, paragraph, said, said_counted
from hardware import MAX_FILE_BYTES
from ui.bench import correction_of_design
from ui.pages.cutting import turning
from ui.pages.errand import LAMPS, SAFE, ErrandPage
from ui.pages.practice import BACK_TO_IT, EXERCISE_FIRST, NOT_YET
from ui.pages.theme import Shape
from ui.state import DesignSlice, DesignSource, DesignStage, PreparedDesign, Snapshot

LONGEST_LABEL = 40
COUPON_SUFFIXES = (".svg", ".dxf")
_LAMPS = {
    **LAMPS,
    DesignStage.IDLE: (Shape.RING, said("NO DESIGN YET"), said("nothing is changed yet")),
    DesignStage.FOUND: (Shape.RING, said("CHOOSE"), said("a design, or the coupon")),
    DesignStage.READING: (Shape.HALF_DIAMOND, said("READING"), said("leave the stick in")),
    DesignStage.READY: (Shape.RING, said("NOT YET WRITTEN"), said("look first, then write")),
    DesignStage.DONE: SAFE,
}
IN_FOLDER = {DesignStage.DONE: (Shape.DISC, said("WRITTEN"), said("and read back"))}
_MAIN = {DesignStage.IDLE: "look", DesignStage.READY: "write", DesignStage.DONE: "cutting"}
READ, CLOSE = "read", "close"
REFUSED = (Shape.CROSSED_SQUARE, said("NO CORRECTION"), said("of a design"))


class DesignPage(ErrandPage, frozen=True, kw_only=True):
    """`sources` are what can be chosen with the words on their buttons, `chosen` the name of the one that is;
    `main` is the choice that is meant most, empty where it is to choose first; `leaves` are what the correction does,
    one look after the other, for who asks for it."""

    title: Part = NOTHING
    sources: tuple[tuple[str, Part], ...] = ()
    chosen: str = ""
    main: str = ""
    leaves: tuple[Part, ...] = ()


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
        return _refusing(EXERCISE_FIRST, NOT_YET, (BACK_TO_IT,))
    if not isinstance(correction, DesignCorrection):
        return _refused(correction)
    state = snapshot.design
    return DesignPage(
        lamp=(IN_FOLDER if state.folder else {}).get(state.stage, _LAMPS[state.stage]),
        title=_title(state),
        text=lines_of(*_lines(snapshot, state)),
        sources=tuple((one.name, _label(one)) for one in sources_of(snapshot)),
        chosen=state.source.name if state.source else "",
        choices=_actions(snapshot, state),
        main=_MAIN.get(state.stage, ""),
        leaves=_leaves(snapshot, correction),
    )


def reading(page: DesignPage, leaf: int) -> tuple[tuple[str, Part], ...]:
    """What may be touched while this leaf is read."""
    return turning(leaf, len(page.leaves), CLOSE)


def _refused(refusal: Refusal | None) -> DesignPage:
    text: Part = said("Measure a coupon first: it says by how much the design is to be corrected.")
    actions: tuple[tuple[str, Part], ...] = (("bench", said("Back to measuring")),)
    if refusal is not None:
        text = refusal.text
        if refusal.reason is RefusalReason.MARK_NOT_CONFIRMED:
            actions = (("confirm", said("The mark lies beside NL")), *actions)
    return _refusing(said("No correction"), text, actions)


def _refusing(title: Part, text: Part, actions: tuple[tuple[str, Part], ...]) -> DesignPage:
    return DesignPage(lamp=REFUSED, title=title, text=text, choices=actions, main=actions[0][0])


def _title(state: DesignSlice) -> Part:
    if state.source is not None:
        return _short(state.source.path)
    return said("The design in place of the machine") if state.stage is DesignStage.IDLE else NOTHING


def _lines(snapshot: Snapshot, state: DesignSlice) -> list[Part]:
    """What is to be said at this stage, before the amounts that are the same at all of them."""
    match state.stage:
        case DesignStage.IDLE:
            return [_where(snapshot, state)]
        case DesignStage.FOUND:
            return _found_lines(state)
        case DesignStage.READY if state.prepared is not None:
            return _prepared_lines(state.prepared)
        case DesignStage.DONE:
            written = said("Written as {file}", file=_short(str(state.text)))
            return [written, said("Cut it on this machine and no other.")]
        case DesignStage.FAILED:
            return [state.text]
        case _:
            return []


def _where(snapshot: Snapshot, state: DesignSlice) -> Part:
    if state.folder:
        return _where_to(state)
    sticks = snapshot.download.sticks
    if len(sticks) > 1:
        return said("More than one stick is plugged in: leave only the one with the design.")
    if not sticks:
        return said("Plug the USB stick in that has the design on it, SVG or DXF.")
    return said("Stick: {name}.", name=Name(sticks[0].label) if sticks[0].label else said("without a name"))


def _where_to(state: DesignSlice) -> Part:
    if state.folder:
        return said("Put the design, SVG or DXF, into the folder {folder}", folder=Name(state.folder))
    return said("Save it as SVG or DXF, at most three folders deep.")


def _found_lines(state: DesignSlice) -> list[Part]:
    found = state.found
    if found is None:
        return []
    lines: list[Part] = []
    if not found.paths:
        lines = [
            said("No design in SVG or DXF: the coupon that proves the correction can be had."),
            _where_to(state),
        ]
    if found.too_large:
        limit = Number(MAX_FILE_BYTES // 1024**2, sign="MB")
        lines.append(said("Left out as larger than {limit}: {count}", limit=limit, count=found.too_large))
    if found.more:
        lines.append(said("There are more than are listed: put the design at the top and clear others away."))
    return lines


def _prepared_lines(prepared: PreparedDesign) -> list[Part]:
    return [
        said("It will be written as {file}", file=_short(prepared.path)),
        said("The original stays as it is."),
        *unlike_sentences(prepared),
    ]


def _leaves(snapshot: Snapshot, correction: DesignCorrection) -> tuple[Part, ...]:
    """By how much, what leans in the file that was looked at, what to mind, and the map itself at the end."""
    part = part_sentence(correction.skew_deg, part_side_mm(snapshot.machines.current))
    skew = correction.skew_deg
    map_sentence, scales, *warnings = correction.sentences
    amount = said("Skew {skew} is taken out.", skew=Angle(skew.value, 3, u_deg=skew.U95, signed=True))
    prepared = snapshot.design.prepared
    leaning = paragraph(*leaning_sentences(prepared)) if prepared else NOTHING
    leaves = (paragraph(amount, part), scales, leaning, *warnings, map_sentence)
    return tuple(leaf for leaf in leaves if leaf)


def _actions(snapshot: Snapshot, state: DesignSlice) -> tuple[tuple[str, Part], ...]:
    if state.stage.is_busy:
        return ()
    again = state.found or state.stage is DesignStage.DONE
    read: tuple[str, Part] = (READ, said("What it does"))
    look = ("look", said("Look again") if again else said("Look for designs"))
    if state.stage is DesignStage.READY:
        return (("write", said("Write the corrected copy")), look, read)
    looking = (look,) if state.folder or len(snapshot.download.sticks) == 1 else ()
    first: tuple[tuple[str, Part], ...] = (
        (("cutting", said("Before cutting")),) if state.stage is DesignStage.DONE else ()
    )
    return (*first, *looking, read)


def _label(source: DesignSource) -> Part:
    if source.coupon is not None:
        return said("Coupon to prove it, {format}", format=Name(source.path.rpartition(".")[2].upper()))
    return _short(source.path)


def _short(path: str) -> Name:
    """A long name by its two ends: what tells it apart often stands last."""
    if len(path) <= LONGEST_LABEL:
        return Name(path)
    half = LONGEST_LABEL // 2
    return Name(f"{path[: half - 1]}…{path[-half:]}")


def leaning_sentences(design: CorrectedDesign | PreparedDesign) -> list[Part]:
    """What is different to look at in a corrected file, by how many things."""
    words: list[Part] = []
    if design.texts:
        words.append(
            said_counted("{count} text leans in the file.", "{count} texts lean in the file.", count=design.texts)
        )
    if design.circles:
        words.append(
            said_counted(
                "{count} circle is an ellipse in the file.",
                "{count} circles are ellipses in the file.",
                count=design.circles,
            )
        )
    if design.flattened:
        words.append(
            said_counted(
                "{count} round outline is short lines in the file.",
                "{count} round outlines are short lines in the file.",
                count=design.flattened,
            )
        )
    return words


def unlike_sentences(design: CorrectedDesign | PreparedDesign) -> list[Part]:
    """What is not as it should be in a corrected file, and must be looked at."""
    words: list[Part] = []
    if design.left_out:
        words.append(
            said_counted(
                "{count} thing could not be corrected: look before cutting.",
                "{count} things could not be corrected: look before cutting.",
                count=design.left_out,
            )
        )
    if design.undrawn:
        words.append(
            said_counted(
                "{count} dimension without lines is left out.",
                "{count} dimensions without lines are left out.",
                count=design.undrawn,
            )
        )
    return words

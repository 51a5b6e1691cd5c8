"""What the update screen says: what runs here, what is on the stick, how far it is, and what may be touched. Pure.

Input: Snapshot, and whether to go back was asked for. Output: ErrandPage.
"""

from core.said import Name, Part, lines, said, said_counted
from ui.bench import UpdateStep
from ui.pages.errand import LAMPS, ErrandPage
from ui.pages.theme import Shape
from ui.state import Snapshot, UpdateSlice, UpdateState

_LAMPS = {
    **LAMPS,
    UpdateState.FOUND: (Shape.RING, said("UPDATE FOUND"), said("stick no longer needed")),
    UpdateState.INSTALLING: (Shape.HALF_DIAMOND, said("INSTALLING"), said("leave the bench switched on")),
    UpdateState.STARTING: (Shape.HALF_DIAMOND, said("STARTING"), said("leave the bench switched on")),
    UpdateState.FAILED: (Shape.CROSSED_SQUARE, said("NOT UPDATED"), said("nothing was changed")),
}
ASK_BACK, STAY = "ask-back", "stay"


def update_page(snapshot: Snapshot, *, asked_back: bool) -> ErrandPage:
    """The page; `asked_back` once going back was touched and is still to be confirmed."""
    update = snapshot.update
    if update is None:
        return ErrandPage()
    asked_back = asked_back and not update.state.is_busy
    text, choices = _body(snapshot, update, asked_back=asked_back)
    replaces = asked_back or update.state is UpdateState.FOUND
    return ErrandPage(lamp=_LAMPS[update.state], text=text, choices=choices, replaces=replaces)


def _body(snapshot: Snapshot, update: UpdateSlice, *, asked_back: bool) -> tuple[Part, tuple[tuple[str, Part], ...]]:
    """The words, and what may be touched: the way on first."""
    readings = len(snapshot.readings) if snapshot.session and not snapshot.closed else None
    back = said("Back to {version}", version=Name(update.before))
    if asked_back:
        stay = said("Stay on {version}", version=Name(update.running))
        return back_question_text(update, readings), ((UpdateStep.GO_BACK, back), (STAY, stay))
    match update.state:
        case UpdateState.FOUND:
            return question_text(update, readings), (
                (UpdateStep.INSTALL, said("Install {version}", version=Name(update.found))),
                (UpdateStep.LEAVE, said("Not now")),
            )
        case UpdateState.IDLE | UpdateState.FAILED:
            text = idle_text(update) if update.state is UpdateState.IDLE else failed_text(update)
            look = (UpdateStep.LOOK, said("Look at the stick"))
            return text, (look, (ASK_BACK, back)) if update.before else (look,)
        case _:
            return busy_text(update), ()


def idle_text(update: UpdateSlice) -> Part:
    """What runs here, what became of the last update, and what to do for another."""
    here = update.last or said("Version {version} runs here.", version=Name(update.running))
    return lines(here, said("Plug in the stick with the update."))


def busy_text(update: UpdateSlice) -> Part:
    """How far it is, and what may be done meanwhile."""
    if update.state is UpdateState.LOOKING:
        return update.text
    return lines(update.text, said("Takes minutes; what is measured meanwhile is kept."))


def failed_text(update: UpdateSlice) -> Part:
    """What happened, and what is safe."""
    return lines(
        said("Not updated: {reason}", reason=update.text),
        said("{version} runs on; all is kept.", version=Name(update.running)),
    )


def question_text(update: UpdateSlice, readings: int | None) -> Part:
    """What is said before an update is installed; `readings` of the coupon that is open, None where none is."""
    first = said("{new} is signed and whole; {here} runs now.", here=Name(update.running), new=Name(update.found))
    return lines(first, *_what_happens(update.found, update.running, readings))


def back_question_text(update: UpdateSlice, readings: int | None) -> Part:
    """What is said before the version before is taken back; `readings` of the coupon that is open, or None."""
    first = said(
        "{before} ran before {here}. Sessions since then are kept.",
        here=Name(update.running),
        before=Name(update.before),
    )
    return lines(first, *_what_happens(update.before, update.running, readings))


def _what_happens(there: str, here: str, readings: int | None) -> tuple[Part, ...]:
    dark = said(
        "Dark for minutes: leave it switched on. If {new} does not start, {old} comes back.",
        new=Name(there),
        old=Name(here),
    )
    if readings is None:
        return (dark,)
    kept = said_counted(
        "The coupon stays open with its {count} reading.",
        "The coupon stays open with its {count} readings.",
        count=readings,
    )
    return (dark, kept)

"""What the snapshot says of updates: what runs here, what is on the stick, how far it is; and the words for it. Pure.

Input: the last change of release as hardware/releases.py keeps it, and what the helper answers. Output: an UpdateSlice,
sentences for the person.
"""

from __future__ import annotations

from core.said import Name, Part, lines, said, said_counted
from ui.state.stick import UpdateSlice, UpdateState


def idle_text(view: UpdateSlice) -> Part:
    """What runs here, what became of the last update, and what to do for another."""
    here = view.last or said("Version {version} runs here.", version=Name(view.running))
    return lines(here, said("Plug in the stick with the update."))


def busy_text(view: UpdateSlice) -> Part:
    """How far it is, and what may be done meanwhile."""
    if view.state is UpdateState.LOOKING:
        return view.text
    return lines(view.text, said("Takes minutes; what is measured meanwhile is kept."))


def failed_text(view: UpdateSlice) -> Part:
    """What happened, and what is safe."""
    return lines(
        said("Not updated: {reason}", reason=view.text),
        said("{version} runs on; all is kept.", version=Name(view.running)),
    )


def question_text(view: UpdateSlice, readings: int | None) -> Part:
    """What is said before an update is installed; `readings` of the coupon that is open, None where none is."""
    first = said("{new} is signed and whole; {here} runs now.", here=Name(view.running), new=Name(view.found))
    return lines(first, *_what_happens(view.found, view.running, readings))


def back_question_text(view: UpdateSlice, readings: int | None) -> Part:
    """What is said before the version before is taken back; `readings` of the coupon that is open, or None."""
    first = said(
        "{before} ran before {here}. Sessions since then are kept.", here=Name(view.running), before=Name(view.before)
    )
    return lines(first, *_what_happens(view.before, view.running, readings))


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

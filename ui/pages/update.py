"""What the snapshot says of updates: what runs here, what is on the stick, how far it is; and the words for it. Pure.

Input: the last change of release as hardware/releases.py keeps it, and what the helper answers. Output: an UpdateSlice,
sentences for the person.
"""

from __future__ import annotations

from ui.state.stick import UpdateSlice, UpdateState


def idle_text(view: UpdateSlice) -> str:
    """What runs here, what became of the last update, and what to do for another."""
    do = "To update: plug in the stick with the update, then look at it."
    return "\n".join((view.last or f"Version {view.running} runs here.", do))


def busy_text(view: UpdateSlice) -> str:
    """How far it is, and what may be done meanwhile."""
    if view.state is UpdateState.LOOKING:
        return _sentence(view.text)
    return f"{_sentence(view.text)}\nThis takes some minutes. What is measured meanwhile is kept."


def failed_text(view: UpdateSlice) -> str:
    """What happened, and what is safe."""
    return f"Not updated: {view.text}\nVersion {view.running} runs on as before. Sessions and settings are untouched."


def question_text(view: UpdateSlice, readings: int | None) -> str:
    """What is said before an update is installed; `readings` of the coupon that is open, None where none is."""
    first = f"Version {view.running} runs here, {view.found} is on the stick. Its signature is good and it is whole."
    return "\n".join((first, *_what_happens(view.found, view.running, readings)))


def back_question_text(view: UpdateSlice, readings: int | None) -> str:
    """What is said before the version before is taken back; `readings` of the coupon that is open, or None."""
    first = f"Version {view.running} runs here, {view.before} ran before it. Sessions measured since then are kept."
    return "\n".join((first, *_what_happens(view.before, view.running, readings)))


def _what_happens(there: str, here: str, readings: int | None) -> tuple[str, ...]:
    dark = (
        "The screen goes dark for some minutes: leave the bench switched on. "
        f"If {there} does not start, {here} comes back by itself."
    )
    if readings is None:
        return (dark,)
    return (dark, f"The coupon stays open: its {readings} readings are on the disk. Measuring goes on after it.")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else ""

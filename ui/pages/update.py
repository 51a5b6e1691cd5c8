"""What the snapshot says of updates: what runs here, what is on the stick, how far it is; and the words for it. Pure.

Input: the last change of release as hardware/releases.py keeps it, and what the helper answers. Output: an UpdateSlice,
sentences for the person.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from hardware.releases import Change, Phase, current_release, previous_release, read_change, version_of
from hardware.update_archive import newer


class UpdateState(StrEnum):
    """Where an update stands."""

    IDLE = "idle"
    LOOKING = "looking"
    FOUND = "found"
    INSTALLING = "installing"
    STARTING = "starting"
    FAILED = "failed"

    @property
    def is_busy(self) -> bool:
        """True while the helper works on it."""
        return self in (UpdateState.LOOKING, UpdateState.INSTALLING, UpdateState.STARTING)


class UpdateStep(StrEnum):
    """What a person can do about the version of the program; the last two start the bench anew."""

    LOOK = "look"  # whether the stick holds an update for this bench
    LEAVE = "leave"  # not now: what was found is forgotten
    INSTALL = "install"  # what was found
    GO_BACK = "go-back"  # to the version that ran before


@dataclass(frozen=True, slots=True, kw_only=True)
class UpdateSlice:
    """`running` is the version that runs here, `before` the one that can be gone back to (empty: none), `found` the one
    on the stick; `text` is how far it is, or why not; `last` what became of the last update, `news` the same on the
    first start after it.
    """

    running: str
    before: str = ""
    state: UpdateState = UpdateState.IDLE
    found: str = ""
    text: str = ""
    last: str = ""
    news: str = ""


def installed_update(program: Path, prefix: Path) -> UpdateSlice | None:
    """The view of a bench that runs from a release below `program`; None for any other, which no stick can update."""
    here = current_release(program)
    if not here or prefix.resolve() != (program / "releases" / here).resolve():
        return None
    change = read_change(program)
    last = outcome_text(change)
    return UpdateSlice(
        running=version_of(here),
        before=version_of(previous_release(program)),
        last=last,
        news="" if change is None or change.told else last,
    )


def came_back(program: Path) -> bool:
    """Whether a later version has run here before this one, and may have left records of its own form."""
    change = read_change(program)
    if change is None:
        return False
    here = current_release(program)
    others = {version_of(name) for name in (change.came_from, change.goes_to) if name and name != here}
    return any(newer(other, version_of(here)) for other in others)


def outcome_text(change: Change | None) -> str:
    """What became of the last change of version; empty where there was none."""
    if change is None:
        return ""
    there, here = version_of(change.goes_to), version_of(change.came_from)
    match change.phase:
        case Phase.TRIAL | Phase.RUNS:
            return f"Version {there} runs here now. It took the place of {here}."
        case Phase.TAKEN_BACK:
            return f"Version {there} did not start. {here} was taken back: nothing of your sessions was touched."
        case Phase.NOT_SWITCHED:
            return f"The change to version {there} was cut off. {here} runs on as before."


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

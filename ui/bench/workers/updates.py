"""Asks the helper for updates without stopping the bench: a thread of its own for each errand, reports into the queue.

Input: what to do. Output: `UpdateMoved` reports, posted into the bench's queue.
"""

import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from core.errors import StoppedError
from core.said import NOTHING, Name, Part, said
from core.said_wire import of_line
from hardware import (
    MAY_BE_CALLED_OFF,
    Change,
    Phase,
    Verb,
    ask_helper,
    current_release,
    newer,
    previous_release,
    read_change,
    version_of,
)
from ui.bench.supervision import answered
from ui.bench.workers.work import under_way
from ui.state import Report, UpdateSlice, UpdateState

_WORDS = {
    Verb.LOOK_FOR_UPDATE: said("looking at the update"),
    Verb.INSTALL_UPDATE: said("installing the update"),
    Verb.GO_BACK: said("going back to the version before"),
}
# How many words of progress the helper has.
_STEPS = {Verb.LOOK_FOR_UPDATE: 2, Verb.INSTALL_UPDATE: 5}


class UpdateMoved(Report, frozen=True, kw_only=True):
    """An update came further or ended; `text` says it in words, `found` is the version on the stick."""

    state: UpdateState
    text: Part
    found: str = ""


class AskRoot(Protocol):
    """How the helper is asked; `ask_helper` is the real one."""

    def __call__(
        self, verb: Verb, *words: str, progress: Callable[[Part], None], begun: Callable[[Callable[[], None]], None]
    ) -> str:
        """Have it done and return the answer; `begun` is given what calls it off. Raises NotAvailableError with the
        reason."""
        ...


class Updates:
    """Each call returns at once; what becomes of it is posted."""

    def __init__(self, post: Callable[[Report], None], ask: AskRoot = ask_helper) -> None:
        self._post = post
        self._ask = ask

    def look(self, partition: str) -> None:
        """What is on this stick: FOUND with its version, or FAILED."""
        self._begin(UpdateState.LOOKING, Verb.LOOK_FOR_UPDATE, partition, ends=UpdateState.FOUND)

    def install(self, version: str) -> None:
        """Install what was looked at: STARTING, and soon the bench is started anew; or FAILED."""
        self._begin(UpdateState.INSTALLING, Verb.INSTALL_UPDATE, version, ends=UpdateState.STARTING)

    def go_back(self) -> None:
        """Take the version before: STARTING, or FAILED."""
        self._begin(UpdateState.INSTALLING, Verb.GO_BACK, ends=UpdateState.STARTING)

    def _begin(self, state: UpdateState, verb: Verb, *words: str, ends: UpdateState) -> None:
        def failed(text: Part) -> None:
            self._post(UpdateMoved(state=UpdateState.FAILED, text=text))

        def run() -> None:
            answer = self._asked(state, verb, words)
            found = answer if ends is UpdateState.FOUND else ""
            self._post(UpdateMoved(state=ends, text=NOTHING if found else of_line(answer), found=found))

        threading.Thread(target=lambda: answered("update", run, failed), name="update", daemon=True).start()

    def _asked(self, state: UpdateState, verb: Verb, words: tuple[str, ...]) -> str:
        call_off: list[Callable[[], None]] = []

        def stopping() -> None:
            for stop in call_off:
                stop()

        with under_way(self._post, _WORDS[verb], stopping) as work:
            steps = 0

            def progress(text: Part) -> None:
                nonlocal steps
                self._post(UpdateMoved(state=state, text=text))
                # Whether it is stopped is the helper's word: it may be done already.
                with suppress(StoppedError):
                    work.told(steps, _STEPS.get(verb, 1))
                steps += 1

            if verb not in MAY_BE_CALLED_OFF:
                work.must_end()
            return self._ask(verb, *words, progress=progress, begun=call_off.append)


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
        news=NOTHING if change is None or change.told else last,
    )


def came_back(program: Path) -> bool:
    """Whether a later version has run here before this one, and may have left records of its own form."""
    change = read_change(program)
    if change is None:
        return False
    here = current_release(program)
    others = {version_of(name) for name in (change.came_from, change.goes_to) if name and name != here}
    return any(newer(other, version_of(here)) for other in others)


def outcome_text(change: Change | None) -> Part:
    """What became of the last change of version; empty where there was none."""
    if change is None:
        return NOTHING
    there, here = Name(version_of(change.goes_to)), Name(version_of(change.came_from))
    match change.phase:
        case Phase.TRIAL | Phase.RUNS:
            return said("Version {new} runs here now. It took the place of {old}.", new=there, old=here)
        case Phase.TAKEN_BACK:
            return said(
                "Version {new} did not start. {old} runs again: nothing of your sessions was touched.",
                new=there,
                old=here,
            )
        case Phase.NOT_SWITCHED:
            return said("The change to version {new} was cut off. {old} runs on as before.", new=there, old=here)

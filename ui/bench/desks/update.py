"""The update desk: what is on the stick, installed after it was asked, and words for whatever becomes of it.

Input: commands, reports of the helper's errands. Output: the snapshot's `UpdateSlice`, and errands.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from core.errors import NotAvailableError
from hardware.usb_stick import the_one_stick
from ui.bench.steps import told
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.updates import UpdateMoved
from ui.pages.update import UpdateSlice, UpdateState, UpdateStep
from ui.state.commands import ChangeVersion, Command
from ui.state.snapshot import Snapshot


class UpdatePort(Protocol):
    """Who has the helper do it; each call returns at once."""

    def look(self, partition: str) -> None:
        """Look at the stick."""
        ...

    def install(self, version: str) -> None:
        """Install what was looked at."""
        ...

    def go_back(self) -> None:
        """Take the version before."""
        ...


class UpdateDesk:
    """Keeps nothing: what is under way is in the snapshot, whose `update` is None where no stick can update."""

    def __init__(self, updates: UpdatePort) -> None:
        self._updates = updates

    def handle(self, draft: Snapshot, event: Command | ArchiveReport | UpdateMoved) -> Snapshot:
        """Take what concerns updates; anything else leaves the snapshot as it is."""
        view = draft.update
        if view is None:
            return draft
        match event:
            case ChangeVersion(step=step) if not view.state.is_busy:
                return self._step(draft, view, step)
            case UpdateMoved(state=state, text=text, found=found):
                moved = replace(draft, update=replace(view, state=state, text=text, found=found or view.found))
                failed = state is UpdateState.FAILED
                return told(moved, "Not updated: Setup, Update says why.", alarm=True) if failed else moved
        return draft

    def _step(self, draft: Snapshot, view: UpdateSlice, step: UpdateStep) -> Snapshot:
        match step:
            case UpdateStep.LOOK:
                return self._look(draft, view)
            case UpdateStep.LEAVE:
                return replace(draft, update=replace(view, state=UpdateState.IDLE, found="", text=""))
            case UpdateStep.INSTALL if view.state is UpdateState.FOUND:
                return self._unless_storing(draft, view, lambda: self._updates.install(view.found))
            case UpdateStep.GO_BACK if view.before:
                return self._unless_storing(draft, view, self._updates.go_back)
        return draft

    def _look(self, draft: Snapshot, view: UpdateSlice) -> Snapshot:
        if draft.stick_in_use:
            return told(draft, "The stick is being read or written: wait for it.", alarm=True)
        try:
            stick = the_one_stick(draft.download.sticks)
        except NotAvailableError as error:
            return replace(draft, update=replace(view, state=UpdateState.FAILED, found="", text=str(error)))
        self._updates.look(stick.partition)
        return replace(draft, update=replace(view, state=UpdateState.LOOKING, found="", text="reading the stick"))

    def _unless_storing(self, draft: Snapshot, view: UpdateSlice, begin: Callable[[], None]) -> Snapshot:
        """Never while a reading is on its way to the disk, or a stick is written to."""
        if draft.storing or draft.stick_in_use:
            return told(draft, "Something is being written: wait a moment, then touch again.", alarm=True)
        begin()
        return replace(draft, update=replace(view, state=UpdateState.INSTALLING, text=""))

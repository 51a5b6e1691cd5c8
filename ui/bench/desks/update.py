"""The update desk: what is on the stick, installed after it was asked, and words for whatever becomes of it.

Input: commands, reports of the helper's errands. Output: the snapshot's `UpdateSlice`, and errands.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

from msgspec.structs import replace

from core.errors import NotAvailableError
from core.said import NOTHING, said
from hardware import the_one_stick
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.updates import UpdateMoved, Updates
from ui.state import Command, Snapshot, UpdateSlice, UpdateState


class ChangeVersion(Command, frozen=True, kw_only=True):
    """Take this step towards another version of the program."""

    step: UpdateStep


class UpdateStep(StrEnum):
    """What a person can do about the version of the program; the last two start the bench anew."""

    LOOK = "look"  # whether the stick holds an update for this bench
    LEAVE = "leave"  # not now: what was found is forgotten
    INSTALL = "install"  # what was found
    GO_BACK = "go-back"  # to the version that ran before


class UpdateDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot, whose `update` is None where no stick can update."""

    def __init__(self, updates: Updates) -> None:
        self._updates = updates
        self.takes = {ChangeVersion: self._change, UpdateMoved: self._moved}

    def _change(self, draft: Snapshot, change: ChangeVersion) -> Snapshot:
        view = draft.update
        if view is None or view.state.is_busy:
            return draft
        match change.step:
            case UpdateStep.LOOK:
                return self._look(draft, view)
            case UpdateStep.LEAVE:
                return replace(draft, update=replace(view, state=UpdateState.IDLE, found="", text=NOTHING))
            case UpdateStep.INSTALL if view.state is UpdateState.FOUND:
                return self._unless_storing(draft, view, lambda: self._updates.install(view.found))
            case UpdateStep.GO_BACK if view.before:
                return self._unless_storing(draft, view, self._updates.go_back)
        return draft

    def _moved(self, draft: Snapshot, moved: UpdateMoved) -> Snapshot:
        view = draft.update
        if view is None:
            return draft
        update = replace(view, state=moved.state, text=moved.text, found=moved.found or view.found)
        draft = replace(draft, update=update)
        failed = moved.state is UpdateState.FAILED
        return told(draft, said("Not updated: Setup, Update says why."), alarm=True) if failed else draft

    def _look(self, draft: Snapshot, view: UpdateSlice) -> Snapshot:
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        try:
            stick = the_one_stick(draft.download.sticks)
        except NotAvailableError as error:
            return replace(draft, update=replace(view, state=UpdateState.FAILED, found="", text=error.what))
        self._updates.look(stick.partition)
        looking = replace(view, state=UpdateState.LOOKING, found="", text=said("Reading the stick."))
        return replace(draft, update=looking, message=None)  # what was said of the one before is over

    def _unless_storing(self, draft: Snapshot, view: UpdateSlice, begin: Callable[[], None]) -> Snapshot:
        """Never while a reading is on its way to the disk, or a stick is written to."""
        if draft.storing or draft.stick_in_use:
            return told(draft, said("Something is being written: wait a moment, then touch again."), alarm=True)
        begin()
        return replace(draft, update=replace(view, state=UpdateState.INSTALLING, text=NOTHING))

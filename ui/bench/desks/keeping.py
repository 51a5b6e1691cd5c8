"""The keeping desk: the whole bench onto a stick and back, and the fault report, each by one touch.

Input: commands and the download thread's reports. Output: the snapshot's `KeepSlice`, and orders to the thread.
"""

from enum import StrEnum

from msgspec.structs import replace

from core.said import said
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.downloads import WaysSeen
from ui.bench.workers.keeping import Keeping
from ui.state import Command, DownloadState, KeepSlice, Snapshot


class KeepStep(StrEnum):
    """What a person can have done with the whole bench and a stick."""

    SAVE = "save"  # put it onto the stick, to be taken back on a new card
    LOOK = "look"  # for a saved bench on the stick; nothing changes yet
    TAKE_BACK = "take-back"  # what was found: the program ends, and starts with it
    LEAVE = "leave"  # all as it is, and what was found forgotten
    WITHOUT_READINGS = "without-readings"  # what a maintainer needs, onto the stick
    WITH_READINGS = "with-readings"  # the same, and the newest coupon with all that is in it


class KeepBench(Command, frozen=True, kw_only=True):
    """Take this step."""

    step: KeepStep


class KeepDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, keeping: Keeping | None) -> None:
        self._keeping = keeping
        self.takes = {
            KeepBench: self._ask,
            KeepSlice: self._moved,
        }
        self.hears = {WaysSeen: self._forget}

    def _ask(self, draft: Snapshot, wish: KeepBench) -> Snapshot:
        if wish.step is KeepStep.LEAVE:
            return self._forget(draft)
        if self._keeping is None:
            return told(
                draft, said("This bench keeps nothing on sticks: cornerwise save-bench does it from here."), alarm=True
            )
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        match wish.step:
            case KeepStep.SAVE:
                self._keeping.save()
            case KeepStep.LOOK:
                self._keeping.look()
            case KeepStep.TAKE_BACK:
                if draft.keep.found is None:
                    return draft
                self._keeping.fetch(draft.keep.found.folder)
            case KeepStep.WITHOUT_READINGS:
                self._keeping.report_fault(None)
            case KeepStep.WITH_READINGS:
                self._keeping.report_fault(draft.settings.speech.on_paper)
        return replace(draft, keep=KeepSlice(state=DownloadState.WRITING, text=said("collecting")))

    def _moved(self, draft: Snapshot, moved: KeepSlice) -> Snapshot:
        draft = replace(draft, keep=moved)
        match moved.state:
            case DownloadState.SAFE:
                return told(draft, moved.text)
            case DownloadState.IDLE if moved.text:
                return told(draft, moved.text)
            case DownloadState.FAILED:
                return told(draft, said("Not done: {reason}", reason=moved.text), alarm=True)
            case _:
                return draft

    def _forget(self, draft: Snapshot, _ways: WaysSeen | None = None) -> Snapshot:
        """What was found is not wanted, or on a stick that may be gone."""
        return replace(draft, keep=replace(draft.keep, found=None))

"""The keeping desk: the whole bench onto a stick and back, and the fault report, each by one touch.

Input: commands and the download thread's reports. Output: the snapshot's `KeepSlice`, and orders to the thread.
"""

from dataclasses import dataclass, replace

from core.said import said
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.downloads import WaysSeen
from ui.bench.workers.keeping import Keeping
from ui.state import Command, DownloadState, KeepSlice, Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class SaveBench(Command):
    """Put the whole bench onto the stick that is plugged in, to be taken back on a new card."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookForSavedBench(Command):
    """Look for a saved bench on the stick; nothing changes yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBenchBack(Command):
    """Take the saved bench that was found; the program ends, and starts with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveSavedBench(Command):
    """Leave all as it is, and forget what was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteFaultReport(Command):
    """Put what a maintainer needs onto the stick; the newest coupon too, with all that is in it, where wanted."""

    with_session: bool


class KeepDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, keeping: Keeping | None) -> None:
        self._keeping = keeping
        self.takes = {
            SaveBench: self._ask,
            LookForSavedBench: self._ask,
            TakeBenchBack: self._ask,
            LeaveSavedBench: self._forget,
            WriteFaultReport: self._ask,
            KeepSlice: self._moved,
        }
        self.hears = {WaysSeen: self._forget}

    def _ask(self, draft: Snapshot, wish: Command) -> Snapshot:
        if self._keeping is None:
            return told(
                draft, said("This bench keeps nothing on sticks: cornerwise save-bench does it from here."), alarm=True
            )
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        match wish:
            case SaveBench():
                self._keeping.save()
            case LookForSavedBench():
                self._keeping.look()
            case TakeBenchBack():
                if draft.keep.found is None:
                    return draft
                self._keeping.fetch(draft.keep.found.folder)
            case WriteFaultReport(with_session=wanted):
                self._keeping.report_fault(draft.settings.speech.on_paper if wanted else None)
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

    def _forget(self, draft: Snapshot, _event: WaysSeen | LeaveSavedBench) -> Snapshot:
        """What was found is not wanted, or on a stick that may be gone."""
        return replace(draft, keep=replace(draft.keep, found=None))

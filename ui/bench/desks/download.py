"""The download desk: one touch to a stick or onto the cable, and words for whatever becomes of it.

Input: commands, archive answers, download reports. Output: the snapshot's `DownloadSlice`, and orders to the download
thread.
"""

from msgspec.structs import replace

from core.said import Part, said
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.archive_tasks import RecordForDownload, load_for_download
from ui.bench.workers.archive_thread import LOOKING, Outbox
from ui.bench.workers.downloads import DownloadMoved, Downloads, WaysSeen
from ui.state import Command, DownloadState, DownloadWay, Snapshot


class Download(Command, frozen=True, kw_only=True):
    """Give a session's folder away: onto the stick that is plugged in, or onto the drive a computer sees."""

    session: str
    way: DownloadWay = DownloadWay.STICK


class DownloadDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, outbox: Outbox, downloads: Downloads | None) -> None:
        self._outbox = outbox
        self._downloads = downloads
        self.takes = {
            Download: self._ask,
            RecordForDownload: self._give,
            WaysSeen: self._ways_seen,
            DownloadMoved: self._moved,
        }

    def _give(self, draft: Snapshot, found: RecordForDownload) -> Snapshot:
        if self._downloads is not None:
            self._downloads.download(found.record, found.way, draft.settings.speech.on_paper)
        return draft

    def _ways_seen(self, draft: Snapshot, ways: WaysSeen) -> Snapshot:
        return replace(draft, download=replace(draft.download, sticks=ways.sticks, cable=ways.cable))

    def _ask(self, draft: Snapshot, wish: Download) -> Snapshot:
        if self._downloads is None:
            return told(
                draft, said("Nothing is downloaded from this bench: cornerwise export does it from here."), alarm=True
            )
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        self._outbox.submit(load_for_download(wish.session, wish.way), LOOKING)
        return _told_of(draft, wish.session, DownloadState.WRITING, said("collecting"))

    def _moved(self, draft: Snapshot, moved: DownloadMoved) -> Snapshot:
        draft = _told_of(draft, moved.session, moved.state, moved.text)
        match moved.state:
            case DownloadState.SAFE:
                return told(draft, said("Downloaded and checked: the stick is safe to remove."))
            case DownloadState.SHOWN:
                return told(draft, said("On the drive that the computer sees. Eject it there before the next one."))
            case DownloadState.IDLE:
                return told(draft, moved.text)
            case DownloadState.FAILED:
                return told(draft, said("Not downloaded: {reason}", reason=moved.text), alarm=True)
            case _:
                return draft


def _told_of(draft: Snapshot, session: str, state: DownloadState, text: Part) -> Snapshot:
    return replace(draft, download=replace(draft.download, session=session, state=state, text=text))

"""The download desk: one touch to a stick or onto the cable, and words for whatever becomes of it.

Input: commands, archive answers, download reports. Output: the snapshot's `DownloadSlice`, and orders to the download
thread.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from core.records.report_language import ReportLanguage
from core.records.session_record import SessionRecord
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import RecordForDownload, load_for_download
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.downloads import DownloadMoved, DownloadReport, WaysSeen
from ui.bench.workers.outbox import Outbox
from ui.state.commands import Command, Download, DownloadWay
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadSlice, DownloadState


class DownloadPort(Protocol):
    """Where finished records go to be given away."""

    def download(self, record: SessionRecord, way: DownloadWay, language: ReportLanguage) -> None:
        """Give this session's folder away, its report in this language."""
        ...


class DownloadDesk:
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, outbox: Outbox, downloads: DownloadPort | None) -> None:
        self._outbox = outbox
        self._downloads = downloads

    def handle(self, draft: Snapshot, event: Command | ArchiveReport | DownloadReport) -> Snapshot:
        """Take what concerns downloads; anything else leaves the snapshot as it is."""
        match event:
            case Download(session=session, way=way):
                return self._ask(draft, session, way)
            case RecordForDownload(record=record, way=way) if self._downloads is not None:
                self._downloads.download(record, way, draft.settings.speech.on_paper)
            case WaysSeen(sticks=sticks, cable=cable):
                return replace(draft, download=replace(draft.download, sticks=sticks, cable=cable))
            case DownloadMoved():
                return _moved(draft, event)
        return draft

    def _ask(self, draft: Snapshot, session: str, way: DownloadWay) -> Snapshot:
        if self._downloads is None:
            return told(
                draft, "Nothing is downloaded from this bench: cornerwise export does it from here.", alarm=True
            )
        if draft.stick_in_use:
            return told(draft, "The stick is being read or written: wait for it.", alarm=True)
        self._outbox.submit(load_for_download(session, way))
        return replace(draft, download=_view(draft.download, session, DownloadState.WRITING, "collecting"))


def _moved(draft: Snapshot, moved: DownloadMoved) -> Snapshot:
    draft = replace(draft, download=_view(draft.download, moved.session, moved.state, moved.text))
    match moved.state:
        case DownloadState.SAFE:
            return told(draft, "Downloaded and checked: the stick is safe to remove.")
        case DownloadState.SHOWN:
            return told(draft, "On the drive that the computer sees. Eject it there before the next one.")
        case DownloadState.FAILED:
            return told(draft, f"Not downloaded: {moved.text}", alarm=True)
        case _:
            return draft


def _view(before: DownloadSlice, session: str, state: DownloadState, text: str) -> DownloadSlice:
    return replace(before, session=session, state=state, text=text)

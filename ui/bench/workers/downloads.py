"""The download thread: watches for sticks, writes a finished folder onto one or onto the cable drive, says how far.

Input: records of sessions. Output: download reports, posted into the bench's queue. Writing to a stick takes seconds
and may hang on a bad one, so neither bench nor archive waits for it.
"""

import threading
from collections.abc import Callable, Mapping
from contextlib import closing
from functools import partial
from queue import Empty, SimpleQueue

from msgspec import Struct

from core.errors import NotAvailableError
from core.records import Archive, SessionRecord
from core.said import PLAIN, Part, Voice, said, said_counted
from hardware import Step, Stick, StickAccess, download_to_stick, the_one_stick
from ui.bench.supervision import WorkerFaulted, answered, guarded
from ui.bench.workers.work import Work, under_way
from ui.state import DownloadState, DownloadWay, Report

LOOK_EVERY_S = 1.0
STATE_OF = {Step.WRITING: DownloadState.WRITING, Step.CHECKING: DownloadState.CHECKING, Step.SAFE: DownloadState.SAFE}


class WaysSeen(Report, frozen=True, kw_only=True):
    """Where a download could go now: the sticks that are plugged in, and whether this board can be a drive."""

    sticks: tuple[Stick, ...]
    cable: bool


class DownloadMoved(Report, frozen=True, kw_only=True):
    """A download came further, ended, or failed; `text` says it in words."""

    session: str
    state: DownloadState
    text: Part


Post = Callable[[Report], None]
Errand = Callable[[Post], None]
ShowOnCable = Callable[[Mapping[str, Mapping[str, bytes]], Mapping[str, bytes]], object]


class CableDrive(Struct, frozen=True, kw_only=True):
    """The drive on the cable: `show` puts folders, and the files before them, in place; `records` opens the archive by
    a connection of the caller's own."""

    show: ShowOnCable
    records: Callable[[], Archive]


# What a deed came to that was not to its end, from the words for it, given as `text`.
Ended = Callable[..., Report]
DOWNLOADING = said("downloading")


def errand(
    worker: str, what: Part, deed: Callable[[Post, Work], object], failed: Ended, stopped: Ended | None = None
) -> Errand:
    """A deed with the stick, in sight while it lasts."""

    def run(post: Post) -> None:
        with under_way(post, what) as work:
            answered(
                worker,
                partial(deed, post, work),
                lambda why: post(failed(text=why)),
                lambda why: post((stopped or failed)(text=why)),
            )

    return run


class Downloads:
    """Owns the stick while it is written to; `find_sticks` lists what is plugged in, `access` mounts it.

    `drive` is None on a board that cannot be one. It holds all downloads that were asked for since the start, and the
    page of every other coupon.
    """

    def __init__(
        self,
        *,
        find_sticks: Callable[[], tuple[Stick, ...]],
        access: StickAccess,
        drive: CableDrive | None = None,
    ) -> None:
        self._find_sticks = find_sticks
        self._access = access
        self._drive = drive
        self._on_drive: dict[str, dict[str, bytes]] = {}
        self._errands: SimpleQueue[Errand | None] = SimpleQueue()
        self._seen: WaysSeen | None = None
        self._thread: threading.Thread | None = None

    def start(self, post: Post) -> None:
        """Begin to watch; `post` is called from the download thread."""
        self._thread = threading.Thread(target=self._run, args=(post,), name="downloads")
        self._thread.start()

    def download(self, record: SessionRecord, way: DownloadWay, voice: Voice = PLAIN) -> None:
        """Write this session's folder onto the one stick that is plugged in, or onto the drive on the cable."""
        deed = partial(self._show if way is DownloadWay.CABLE else self._write, record, voice)
        failed, stopped = (
            partial(DownloadMoved, session=record.id, state=state)
            for state in (DownloadState.FAILED, DownloadState.IDLE)
        )
        self.run(errand("downloads", DOWNLOADING, deed, failed, stopped))

    def run(self, errand: Errand) -> None:
        """Do something else with the stick, after everything asked before; it must not raise."""
        self._errands.put(errand)

    def close(self) -> None:
        """Finish what is being written and end the thread."""
        self._errands.put(None)
        if self._thread is not None:
            self._thread.join()

    def _run(self, post: Post) -> None:
        while True:
            guarded("downloads", lambda: self._look(post), lambda text: None)
            try:
                errand = self._errands.get(timeout=LOOK_EVERY_S)
            except Empty:
                continue
            if errand is None:
                return
            guarded("downloads", partial(errand, post), lambda text: post(WorkerFaulted(text=text)))

    def _look(self, post: Post) -> None:
        ways = WaysSeen(sticks=self._find_sticks(), cable=self._drive is not None)
        if ways != self._seen:
            self._seen = ways
            post(ways)

    def _write(self, record: SessionRecord, voice: Voice, post: Post, work: Work) -> None:
        def progress(step: Step) -> None:
            if step is Step.CHECKING:
                work.must_end()  # it is written: what is left is to see that it is
            post(DownloadMoved(session=record.id, state=STATE_OF[step], text=step.words))

        from core.records import files_of  # what it writes with is not needed to come up

        stick = the_one_stick(self._find_sticks())
        progress(Step.WRITING)
        files = files_of(record, voice)
        work.look_up()
        download_to_stick(files, record.id, stick, self._access, progress, told=work.told)

    def _show(self, record: SessionRecord, voice: Voice, post: Post, work: Work) -> None:
        from core.records import drive_of, files_of

        if self._drive is None:
            raise NotAvailableError(said("this board cannot be a drive on a USB cable: use a stick"))

        downloads = {**self._on_drive, record.id: files_of(record, voice)}
        with closing(self._drive.records()) as archive:
            folders, front = drive_of(archive, downloads, voice, work.told)
        work.must_end()
        post(DownloadMoved(session=record.id, state=DownloadState.WRITING, text=said("writing the drive")))
        self._drive.show(folders, front)
        self._on_drive = downloads
        text = said_counted("{count} coupon on the drive", "{count} coupons on the drive", count=len(folders))
        post(DownloadMoved(session=record.id, state=DownloadState.SHOWN, text=text))

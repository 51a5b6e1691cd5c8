"""The whole bench onto a stick and back, and the fault report, in the download thread: it owns the stick.

Input: what to do. Output: `KeepSlice` reports, posted into the bench's queue. A saved bench is only fetched while the
bench is at work: it is taken back at the next start, before anything is opened.
"""

from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from msgspec import Struct

from core.records import Archive, fetch_bench, newest_saved, reported_record, save_bench
from core.said import Part, Voice, said
from hardware import FilePlace, Step, download_to_stick, reading_from, writing_to
from ui.bench.workers.downloads import STATE_OF, Downloads, Post, errand
from ui.bench.workers.work import Work
from ui.state import DownloadState, KeepSlice


class KeptBench(Struct, frozen=True, kw_only=True):
    """What is kept: the folder with everything, and its archive by a connection of the caller's own."""

    folder: Path
    records: Callable[[], Archive]
    utc_now: Callable[[], datetime | None]


class Keeping:
    """Asks the download thread; `place` says which stick, raising NotAvailableError where there is not one."""

    def __init__(self, runner: Downloads, place: Callable[[], FilePlace], kept: KeptBench) -> None:
        self._runner = runner
        self._place = place
        self._kept = kept

    def save(self) -> None:
        """Write the whole bench onto the stick: records, machines, instruments, settings; read back."""
        self._ask(self._save, said("saving the whole bench"))

    def look(self) -> None:
        """Look for a saved bench on the stick."""
        self._ask(self._look, said("looking for a saved bench"))

    def fetch(self, folder: str) -> None:
        """Take this saved bench off the stick, for the next start."""
        what = said("taking the saved bench off the stick")
        self._ask(lambda post, work: self._fetch(folder, post, work), what)

    def report_fault(self, voice: Voice | None) -> None:
        """Write the fault report onto the stick; with the newest session, told in this voice, where one is given."""
        self._ask(lambda post, work: self._report(voice, post, work), said("writing the fault report"))

    def _ask(self, deed: Callable[[Post, Work], None], what: Part) -> None:
        failed, stopped = (partial(KeepSlice, state=state) for state in (DownloadState.FAILED, DownloadState.IDLE))
        self._runner.run(errand("keeping", what, deed, failed, stopped))

    def _save(self, post: Post, work: Work) -> None:
        place = self._place()
        post(KeepSlice(state=DownloadState.WRITING, text=said("saving the whole bench")))
        with writing_to(place.stick, place.access, place.block_devices) as folder:
            save_bench(self._kept.folder, folder, self._kept.utc_now(), work.told)
        text = said("The whole bench is on the stick. Keep it away from the bench: cards die.")
        post(KeepSlice(state=DownloadState.SAFE, text=text))

    def _look(self, post: Post, _work: Work) -> None:
        place = self._place()
        post(KeepSlice(state=DownloadState.CHECKING, text=said("looking for a saved bench")))
        with reading_from(place.stick, place.access, place.block_devices) as folder:
            found = newest_saved(folder)
        post(KeepSlice(state=DownloadState.IDLE, found=found))

    def _fetch(self, name: str, post: Post, work: Work) -> None:
        place = self._place()
        post(KeepSlice(state=DownloadState.CHECKING, text=said("taking the saved bench off the stick")))
        with reading_from(place.stick, place.access, place.block_devices) as folder:
            fetch_bench(folder / name, self._kept.folder, work.told)
        post(KeepSlice(state=DownloadState.SAFE, text=said("The bench starts anew."), starts_anew=True))

    def _report(self, voice: Voice | None, post: Post, work: Work) -> None:
        # All checks of the machine and what they load: nobody needs them to measure.
        from hardware import as_json, examine
        from ui.bench.fault_report import fault_report, report_name

        place = self._place()
        post(KeepSlice(state=DownloadState.WRITING, text=said("collecting")))
        now = self._kept.utc_now()
        data = self._kept.folder
        doctor = as_json(examine(Path("/"), data))
        work.told(1, 4)
        folders: dict[str, Mapping[str, bytes]] = {
            report_name(now): fault_report(data, doctor, now=now or datetime.now(UTC))
        }
        work.told(2, 4)
        if voice is not None:
            folders |= self._newest(voice)
        work.told(3, 4)

        def progress(step: Step) -> None:
            # Safe is said once, when the last folder is.
            if step is not Step.SAFE:
                work.look_up()
                post(KeepSlice(state=STATE_OF[step], text=step.words))

        for name, files in folders.items():
            download_to_stick(files, name, place.stick, place.access, progress, place.block_devices)
        text = said("The fault report is on the stick. Give it to whoever looks after this bench.")
        post(KeepSlice(state=DownloadState.SAFE, text=text))

    def _newest(self, voice: Voice) -> dict[str, Mapping[str, bytes]]:
        from core.records import files_of  # what it writes with is not needed to come up

        with closing(self._kept.records()) as archive:
            newest = archive.session_ids(limit=1)
            if not newest:
                return {}
            record = reported_record(archive, newest[0])
            return {record.id: files_of(record, voice)}

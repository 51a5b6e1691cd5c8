"""The whole bench onto a stick and back on a new card, and the fault report: a real folder stands for the stick."""

from __future__ import annotations

import errno
import json
import os
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.errors import NotAvailableError
from core.records.archive import Archive
from core.records.checksums import CHECKSUMS_FILE, verify_folder
from core.records.events import Note
from core.records.saved_bench import fetch_bench, save_bench, take_fetched_back
from hardware.stick_files import FilePlace
from hardware.usb_stick import FOLDER, Stick, StickAccess
from tests.patience import WAIT_S
from tests.ui.bench.test_downloads import STICK, FolderAsStick
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.desks.keeping import KeepBench, KeepStep
from ui.bench.desks.measuring import CloseSession, SelectFeature
from ui.bench.workers.archive_tasks import append
from ui.bench.workers.downloads import Downloads
from ui.start import BenchOptions, assembled
from ui.state.messages import Command
from ui.state.settings import Settings, SettingsFile
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadState

ENDED = (DownloadState.SAFE, DownloadState.FAILED)


@contextmanager
def bench_with_stick(
    folder: Path, stick: Path, access: StickAccess | None = None
) -> Iterator[tuple[BenchUnderTest, Callable[..., Snapshot]]]:
    """A bench whose stick is a folder; `until` pumps it until the snapshot is as wanted."""
    stick.mkdir(exist_ok=True)
    with running_bench(folder) as under_test:
        access = access or FolderAsStick(stick)
        place = FilePlace(stick=STICK, access=access, block_devices=stick)
        (stick / STICK.partition).touch()  # what is not there was pulled out
        under_test.keep_place = lambda: place
        downloads = Downloads(find_sticks=lambda: (STICK,), access=access)
        under_test.use_downloads(downloads)
        downloads.start(under_test.bench.post)
        woken = threading.Semaphore(0)
        under_test.bench.subscribe(woken.release)

        def until(wanted: Callable[[Snapshot], bool]) -> Snapshot:
            while not wanted(snapshot := under_test.pump()):
                assert woken.acquire(timeout=WAIT_S), "the bench was not woken"
            return snapshot

        try:
            yield under_test, until
        finally:
            downloads.close()


def measured(under_test: BenchUnderTest) -> str:
    """A coupon measured and closed by somebody with a name, a note and a machine; its session."""
    under_test.open()
    for feature, value in SKEWED.items():
        under_test.bench.send(SelectFeature(feature=feature))
        under_test.indicate(value, instrument=quantity_name(feature), pressed=True)
        under_test.stored()
    session = under_test.pump().session
    assert session is not None
    under_test.archive.submit(append(session, Note(text="Zenobia's secret plywood")))
    under_test.stored()
    under_test.bench.send(CloseSession())
    under_test.stored()
    return session


def test_a_card_dies_and_the_bench_is_back_on_a_new_one_by_touch(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "old card", stick) as (bench, until):
        session = measured(bench)
        SettingsFile(tmp_path / "old card").save(Settings(sleep_min=60))
        bench.bench.send(KeepBench(step=KeepStep.SAVE))
        assert until(lambda now: now.keep.state in ENDED).keep.state is DownloadState.SAFE
    with bench_with_stick(tmp_path / "new card", stick) as (bench, until):
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        found = until(lambda now: now.keep.found is not None).keep.found
        assert found is not None
        assert found.sessions == 1
        bench.bench.send(KeepBench(step=KeepStep.TAKE_BACK))
        assert until(lambda now: now.keep.starts_anew or now.keep.state in ENDED).keep.starts_anew
    with assembled(BenchOptions(folder=tmp_path / "new card")) as bench:
        message = bench.pump().message
        assert message is not None
        assert "is back" in str(message.text)
        assert bench.snapshot.settings.sleep_min == 60
    with closing(Archive.open(tmp_path / "new card" / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
        assert archive.session_ids(limit=2) == (session,)
    assert not list((tmp_path / "new card").glob("fetched*"))
    assert len(list((tmp_path / "new card").glob("archive.sqlite.before-restore*"))) >= 1


def test_nothing_is_taken_back_that_was_not_found(tmp_path: Path) -> None:
    with bench_with_stick(tmp_path / "card", tmp_path / "stick") as (bench, until):
        bench.bench.send(KeepBench(step=KeepStep.TAKE_BACK))
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        failed = until(lambda now: now.keep.state in ENDED)
    assert failed.message is not None
    assert failed.message.alarm
    assert "no saved bench is on it" in str(failed.message.text)
    assert not failed.keep.starts_anew


@pytest.mark.parametrize("spoil", ["bit", "unnamed", "pipe", "link"])
def test_a_stick_that_lies_brings_nothing(tmp_path: Path, spoil: str) -> None:
    with running_bench(tmp_path / "card") as under_test:
        session = measured(under_test)
    saved = save_bench(tmp_path / "card", tmp_path / "stick", None)
    archive = saved / "archive.sqlite"
    if spoil == "bit":
        content = bytearray(archive.read_bytes())
        content[9000] ^= 4
        archive.write_bytes(content)
    elif spoil == "unnamed":
        (saved / "settings.json").write_text("{}")
    else:
        archive.unlink()
        if spoil == "pipe":
            os.mkfifo(archive)
        else:
            archive.symlink_to("/dev/zero")
    with bench_with_stick(tmp_path / "new card", tmp_path / "stick") as (bench, until):
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        looked = until(lambda now: now.keep.found is not None or now.keep.state in ENDED)
        if looked.keep.found is not None:
            bench.bench.send(KeepBench(step=KeepStep.TAKE_BACK))
            looked = until(lambda now: now.keep.starts_anew or now.keep.state in ENDED)
        assert looked.keep.state is DownloadState.FAILED
    assert not take_fetched_back(tmp_path / "new card", None)
    assert session


def test_what_rots_between_fetching_and_the_start_leaves_the_bench_as_it_is(tmp_path: Path) -> None:
    with running_bench(tmp_path / "card") as under_test:
        session = measured(under_test)
    saved = save_bench(tmp_path / "card", tmp_path / "stick", None)
    fetch_bench(saved, tmp_path / "card")
    (fetched,) = (tmp_path / "card").glob("fetched*/archive.sqlite")
    fetched.write_bytes(b"rotten")
    assert "was not taken back" in str(take_fetched_back(tmp_path / "card", None))
    with closing(Archive.open(tmp_path / "card" / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
        assert archive.session_ids(limit=2) == (session,)


@pytest.mark.parametrize("with_session", [False, True])
def test_a_fault_report_holds_what_a_maintainer_needs_and_names_only_where_wanted(
    tmp_path: Path, with_session: bool
) -> None:
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "card", stick) as (bench, until):
        session = measured(bench)
        bench.bench.send(KeepBench(step=KeepStep.WITH_READINGS if with_session else KeepStep.WITHOUT_READINGS))
        assert until(lambda now: now.keep.state in ENDED).keep.state is DownloadState.SAFE
    folders = {path.name: path for path in (stick / FOLDER).iterdir()}
    for folder in folders.values():
        verify_folder(folder)
    (report,) = (path for name, path in folders.items() if name.startswith("fault-report-"))
    assert {path.name for path in report.iterdir()} >= {"doctor.json", "process.log", "versions.json", "counts.json"}
    assert json.loads((report / "doctor.json").read_text())["checks"]
    whole = b"".join(path.read_bytes() for path in report.iterdir())
    assert b"Zenobia" not in whole
    assert b"143.62" not in whole
    assert (session in folders) is with_session


def two_sticks() -> FilePlace:
    raise NotAvailableError("2 sticks are plugged in")


def test_two_sticks_are_said_and_nothing_is_written(tmp_path: Path) -> None:
    with bench_with_stick(tmp_path / "card", tmp_path / "stick") as (bench, until):
        bench.keep_place = two_sticks
        bench.bench.send(KeepBench(step=KeepStep.SAVE))
        failed = until(lambda now: now.keep.state in ENDED)
    assert failed.message is not None
    assert failed.message.alarm
    assert [path.name for path in (tmp_path / "stick").iterdir()] == [STICK.partition]


def test_only_the_newest_of_several_is_offered(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "card", stick) as (bench, until):
        measured(bench)
        for day in (3, 9, 5):
            save_bench(tmp_path / "card", stick, datetime(2026, 3, day, tzinfo=UTC))
        save_bench(tmp_path / "card", stick, None)
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        found = until(lambda now: now.keep.found is not None).keep.found
        bench.bench.send(KeepBench(step=KeepStep.LEAVE))
        assert bench.pump().keep.found is None
    assert found is not None
    assert found.saved_utc == datetime(2026, 3, 9, tzinfo=UTC)


def test_a_protected_stick_is_said(tmp_path: Path) -> None:
    with bench_with_stick(tmp_path / "card", tmp_path / "stick") as (bench, until):
        measured(bench)
        locked = Stick(partition="sdz1", label="locked", size_bytes=10**9, write_protected=True)
        bench.keep_place = lambda: FilePlace(stick=locked, access=FolderAsStick(tmp_path / "stick"))
        bench.bench.send(KeepBench(step=KeepStep.SAVE))
        assert "write-protected" in str(until(lambda now: now.keep.state in ENDED).keep.text)


@pytest.mark.parametrize("pulled", [True, False])
@pytest.mark.parametrize(
    "wish",
    [
        KeepBench(step=KeepStep.LOOK),
        KeepBench(step=KeepStep.TAKE_BACK),
        KeepBench(step=KeepStep.SAVE),
        KeepBench(step=KeepStep.WITHOUT_READINGS),
    ],
)
def test_a_stick_that_fails_while_it_is_at_work_is_said_and_not_taken_for_a_fault_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pulled: bool, wish: Command
) -> None:
    """The kernel says EIO for a stick that is gone and for one that is dying; both were 'unforeseen' at a look."""
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "card", stick) as (bench, until):
        measured(bench)
        save_bench(tmp_path / "card", stick, datetime(2026, 3, 3, tzinfo=UTC))
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        until(lambda now: now.keep.found is not None)

        def failing(_access: FolderAsStick, partition: str, *, writable: bool) -> Path:
            if pulled:
                (stick / partition).unlink()
            raise OSError(errno.EIO, os.strerror(errno.EIO))

        monkeypatch.setattr(FolderAsStick, "mount", failing)
        bench.bench.send(wish)
        failed = until(lambda now: now.keep.state in ENDED).keep
    assert failed.state is DownloadState.FAILED
    wanted = "plain stick was pulled out" if pulled else "plain stick: Input/output error; check it on a computer"
    assert wanted in str(failed.text)


def test_what_is_not_on_a_stick_is_not_called_badly_written(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "card", stick) as (bench, until):
        measured(bench)
        saved = save_bench(tmp_path / "card", stick, datetime(2026, 3, 3, tzinfo=UTC))
        bench.bench.send(KeepBench(step=KeepStep.LOOK))
        until(lambda now: now.keep.found is not None)
        (saved / "settings.json").write_text("{}")
        bench.bench.send(KeepBench(step=KeepStep.TAKE_BACK))
        failed = until(lambda now: now.keep.state in ENDED).keep
    assert "does not name settings.json" in str(failed.text)
    assert "did not keep what was written" not in str(failed.text)


@pytest.mark.parametrize("step", [KeepStep.SAVE, KeepStep.WITH_READINGS])
def test_a_bench_that_is_ended_in_the_midst_finishes_what_it_writes(tmp_path: Path, step: KeepStep) -> None:
    """SIGTERM closes the window, and the bench with it: nobody waits for the word, and the folder is whole."""
    stick, at_work, go_on = tmp_path / "stick", threading.Event(), threading.Event()

    class Waiting(FolderAsStick):
        def mount(self, partition: str, *, writable: bool) -> Path:
            at_work.set()
            assert go_on.wait(WAIT_S)
            return super().mount(partition, writable=writable)

    with bench_with_stick(tmp_path / "card", stick, access=Waiting(stick)) as (bench, _until):
        measured(bench)
        bench.bench.send(KeepBench(step=step))
        bench.pump()
        assert at_work.wait(WAIT_S)
        threading.Timer(0.2, go_on.set).start()
    written = [path.parent for path in stick.rglob(CHECKSUMS_FILE)]
    assert len(written) == (1 if step is KeepStep.SAVE else 2)
    for folder in written:
        verify_folder(folder)
    assert not list(stick.rglob("*-partial-*"))

"""One touch to a stick: a real folder stands in for the mounted file system, everything above it is real."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from core.errors import NotAvailableError
from core.records.checksums import verify_folder
from hardware.usb_stick import FOLDER, Stick
from tests.patience import WAIT_S
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.desks.download import Download
from ui.bench.desks.measuring import CloseSession, SelectFeature
from ui.bench.workers.downloads import CableDrive, Downloads
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadState, DownloadWay


class FolderAsStick:
    """Mounts a folder; keeps what was asked of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.asked: list[str] = []

    def mount(self, partition: str, *, writable: bool) -> Path:
        self.asked.append(f"mount {partition} {'rw' if writable else 'ro'}")
        return self.folder

    def unmount(self) -> None:
        self.asked.append("unmount")


STICK = Stick(partition="sdz1", label="plain stick", size_bytes=10**9, write_protected=False)


class DownloadBench:
    """A bench with a judged coupon and a stick, or none."""

    def __init__(
        self,
        under_test: BenchUnderTest,
        access: FolderAsStick,
        sticks: tuple[Stick, ...],
        drive: CableDrive | None = None,
    ) -> None:
        self.under_test = under_test
        self.access = access
        self._woken = threading.Semaphore(0)
        under_test.bench.subscribe(self._woken.release)
        self.downloads = Downloads(find_sticks=lambda: sticks, access=access, drive=drive)
        under_test.use_downloads(self.downloads)
        self.downloads.start(under_test.bench.post)

    def download(self, way: DownloadWay = DownloadWay.STICK) -> Snapshot:
        session = self.under_test.pump().session
        assert session is not None
        self.under_test.bench.send(Download(session=session, way=way))
        ended = (DownloadState.SAFE, DownloadState.SHOWN, DownloadState.FAILED)
        return self.shown_when(lambda snapshot: snapshot.download.state in ended)

    def shown_when(self, wanted: Callable[[Snapshot], bool]) -> Snapshot:
        while not wanted(snapshot := self.under_test.pump()):
            assert self._woken.acquire(timeout=WAIT_S), "the bench was not woken"
        return snapshot


@pytest.fixture
def judged(tmp_path: Path) -> Iterator[BenchUnderTest]:
    """A bench whose coupon is measured and closed."""
    with running_bench(tmp_path) as under_test:
        under_test.open()
        for feature, value in SKEWED.items():
            under_test.bench.send(SelectFeature(feature=feature))
            under_test.indicate(value, instrument=quantity_name(feature), pressed=True)
            under_test.stored()
        under_test.bench.send(CloseSession())
        under_test.stored()
        yield under_test


def on_bench(under_test: BenchUnderTest, tmp_path: Path, sticks: tuple[Stick, ...]) -> DownloadBench:
    folder = tmp_path / "stick"
    folder.mkdir()
    return DownloadBench(under_test, FolderAsStick(folder), sticks)


def test_one_touch_leaves_a_verified_folder_and_says_when_to_pull(judged: BenchUnderTest, tmp_path: Path) -> None:
    bench = on_bench(judged, tmp_path, (STICK,))
    try:
        bench.shown_when(lambda snapshot: snapshot.download.sticks == (STICK,))
        done = bench.download()
    finally:
        bench.downloads.close()
    assert done.download.state is DownloadState.SAFE
    assert done.message is not None
    assert "safe to remove" in str(done.message.text)
    assert bench.access.asked == ["mount sdz1 rw", "unmount", "mount sdz1 ro", "unmount"]
    (folder,) = (tmp_path / "stick" / FOLDER).iterdir()
    verify_folder(folder)
    assert {path.name for path in folder.iterdir()} >= {"session.json", "readings.csv", "report.pdf"}


@pytest.mark.parametrize(("sticks", "words"), [((), "no USB stick"), ((STICK, STICK), "2 sticks are plugged in")])
def test_without_the_one_stick_it_says_so(
    judged: BenchUnderTest, tmp_path: Path, sticks: tuple[Stick, ...], words: str
) -> None:
    bench = on_bench(judged, tmp_path, sticks)
    try:
        failed = bench.download()
    finally:
        bench.downloads.close()
    assert failed.download.state is DownloadState.FAILED
    assert failed.message is not None
    assert failed.message.alarm
    assert words in str(failed.message.text)


def test_without_the_helper_nothing_is_written_and_it_says_so(judged: BenchUnderTest, tmp_path: Path) -> None:
    bench = on_bench(judged, tmp_path, (STICK,))

    def refuse(partition: str, *, writable: bool) -> Path:
        raise NotAvailableError("the helper does not run")

    bench.access.mount = refuse  # type: ignore[method-assign]
    try:
        failed = bench.download()
    finally:
        bench.downloads.close()
    assert failed.download.state is DownloadState.FAILED
    assert not list((tmp_path / "stick").iterdir())


def test_by_cable_the_session_is_on_the_drive_and_a_refusal_is_said(judged: BenchUnderTest, tmp_path: Path) -> None:
    """The first time the computer holds the drive; after an eject the same touch works."""
    shown: list[dict[str, list[str]]] = []
    fronts: list[Mapping[str, bytes]] = []

    def drive(downloads: Mapping[str, Mapping[str, bytes]], front: Mapping[str, bytes]) -> None:
        fronts.append(front)
        shown.append({name: sorted(files) for name, files in downloads.items()})
        if len(shown) == 1:
            raise NotAvailableError("the computer is using the drive; eject it there first")

    bench = DownloadBench(judged, FolderAsStick(tmp_path), (), CableDrive(show=drive, records=judged.open_archive))
    try:
        assert bench.shown_when(lambda snapshot: snapshot.download.cable).download.sticks == ()
        refused = bench.download(DownloadWay.CABLE)
        assert refused.download.state is DownloadState.FAILED
        assert refused.message is not None
        assert "eject it there first" in str(refused.message.text)
        judged.bench.send(Download(session=refused.download.session, way=DownloadWay.CABLE))
        done = bench.shown_when(lambda snapshot: snapshot.download.state is DownloadState.SHOWN)
    finally:
        bench.downloads.close()
    assert str(done.download.text) == "1 coupon on the drive"
    assert "report.pdf" in shown[1][done.download.session]
    page = fronts[1]["index.html"].decode("utf-8")
    assert f'href="cornerwise/{done.download.session}/index.html"' in page


def test_a_board_that_can_be_no_drive_says_so(judged: BenchUnderTest, tmp_path: Path) -> None:
    bench = DownloadBench(judged, FolderAsStick(tmp_path), ())
    try:
        failed = bench.download(DownloadWay.CABLE)
    finally:
        bench.downloads.close()
    assert failed.download.state is DownloadState.FAILED
    assert not failed.download.cable
    assert "use a stick" in str(failed.download.text)

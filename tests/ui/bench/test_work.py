"""What takes its time says what it does after 0.3 s, how far it is after 2 s, and can be stopped after 5 s: whatever it
is, by one mechanism, on the real workers. Nothing half is left where it was stopped."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import StoppedError
from core.geometry.features import Feature
from core.progress import Told, in_part
from core.records.archive import Archive
from core.records.saved_bench import fetch_bench, save_bench
from core.records.whole_writing import write_folder
from core.said import said
from firmware_bridge.discovery import PlugWatch, Port, Recognition
from firmware_bridge.links import make_link
from firmware_bridge.settings_store import SettingsStore
from hardware.usb_stick import FOLDER
from tests.patience import WAIT_S
from tests.ui.bench.test_downloads import FolderAsStick
from tests.ui.bench.test_keeping import bench_with_stick, measured
from tests.ui.bench.waits import stoppable
from tests.ui.bench_bits import SKEWED, running_bench
from ui.bench.desks.cables import ListenPort, LookForRadio
from ui.bench.desks.download import Download
from ui.bench.desks.keeping import KeepBench, KeepStep
from ui.bench.desks.records import look_up_history
from ui.bench.desks.work import HOW_FAR_S, SAID_S, STOPPABLE_S, StopWork
from ui.bench.workers.archive_tasks import LookedUp
from ui.bench.workers.cables import Cables
from ui.bench.workers.work import WorkEnded, WorkMoved
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadState
from ui.terminal.commands import parse_line


@pytest.fixture
def under_test(tmp_path: Path):
    with running_bench(tmp_path / "bench") as running:
        yield running


def moved(key: int = 7, share: float | None = 0.4, stop: Callable[[], None] | None = lambda: None) -> WorkMoved:
    return WorkMoved(key=key, what=said("downloading"), share=share, stop=stop)


@pytest.mark.parametrize(
    ("after_s", "words", "can_stop"),
    [
        (SAID_S - 0.01, None, False),
        (SAID_S, "downloading ...", False),
        (HOW_FAR_S - 0.01, "downloading ...", False),
        (HOW_FAR_S, "downloading: 40 %", False),
        (STOPPABLE_S, "downloading: 40 %", True),
    ],
)
def test_it_says_what_it_does_then_how_far_it_is_then_can_be_stopped(
    under_test, after_s: float, words: str | None, can_stop: bool
) -> None:
    under_test.bench.post(moved(share=0.1))
    under_test.pump()
    under_test.bench.post(moved())
    under_test.now_s += after_s
    work = under_test.pump().work
    assert (str(work.words) if work else None, work is not None and work.can_stop) == (words, can_stop)
    under_test.bench.post(WorkEnded(key=7))
    assert under_test.pump().work is None


def test_what_must_not_be_stopped_never_can_and_a_late_touch_stops_nothing_else(under_test) -> None:
    stopped: list[int] = []
    under_test.bench.post(moved(key=1, stop=None))
    under_test.pump()
    under_test.bench.post(moved(key=2, stop=lambda: stopped.append(2)))
    under_test.pump()
    under_test.now_s += 60.0
    work = under_test.pump().work
    assert (work.key, work.can_stop) == (1, False)
    under_test.bench.send(StopWork(key=1))
    assert under_test.pump().message.alarm
    under_test.bench.post(WorkEnded(key=1))
    work = under_test.pump().work
    assert (work.key, work.can_stop, stopped) == (2, True, [])
    under_test.bench.send(parse_line("cancel", under_test.pump()))
    under_test.pump()
    assert stopped == [2]


def test_a_slow_card_says_that_it_stores_and_a_reading_is_never_given_up(under_test) -> None:
    under_test.open()
    slow = threading.Event()
    under_test.archive.submit(lambda archive: slow.wait(WAIT_S) and LookedUp(name="due", found=None))
    under_test.indicate(SKEWED[Feature.NL_FR], pressed=True)
    under_test.pump()
    under_test.now_s += STOPPABLE_S
    work = under_test.pump().work
    assert (str(work.what), work.can_stop) == ("storing", False)
    slow.set()


def test_a_look_up_is_stopped_in_the_middle_and_what_is_stored_goes_on(under_test) -> None:
    """The archive's thread is in SQLite when it is stopped."""
    under_test.open()
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT max(i) FROM n"

    def find(archive: Archive) -> object:
        begun.set()
        return archive._select(endless, ())

    begun = threading.Event()
    under_test.bench.send(replace(look_up_history(machine=""), find=find, of=()))
    under_test.pump()
    assert begun.wait(WAIT_S)
    under_test.now_s += STOPPABLE_S
    work = under_test.pump().work
    assert (str(work.what), work.can_stop) == ("looking up the history", True)
    under_test.bench.send(StopWork(key=work.key))
    now = under_test.settled()
    assert str(now.message.text) == "Stopped: nothing was changed."
    under_test.bench.send(look_up_history(machine=""))
    assert under_test.settled().records.history is not None


class SlowAccess(FolderAsStick):
    """A stick that is mounted once the person has lost patience."""

    def __init__(self, folder: Path, ready: threading.Event) -> None:
        super().__init__(folder)
        self._ready = ready

    def mount(self, partition: str, *, writable: bool) -> Path:
        assert self._ready.wait(WAIT_S)
        return super().mount(partition, writable=writable)


STICK_WORK: dict[str, tuple[Callable[[str], object], str, Callable[[Snapshot], DownloadState]]] = {
    "download": (lambda session: Download(session=session), "downloading", lambda now: now.download.state),
    "save": (lambda session: KeepBench(step=KeepStep.SAVE), "saving the whole bench", lambda now: now.keep.state),
    "report": (
        lambda session: KeepBench(step=KeepStep.WITH_READINGS), "writing the fault report", lambda now: now.keep.state,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STICK_WORK)
def test_work_on_a_stick_is_stopped_and_leaves_nothing_half(tmp_path: Path, name: str) -> None:
    command, words, state = STICK_WORK[name]
    ready, stick = threading.Event(), tmp_path / "stick"
    with bench_with_stick(tmp_path / "card", stick, access=SlowAccess(stick, ready)) as (bench, until):
        session = measured(bench)
        before = set(stick.rglob("*"))
        bench.bench.send(command(session))
        bench.settled()
        work = stoppable(bench, until)
        assert str(work.what) == words
        bench.bench.send(StopWork(key=work.key))
        bench.pump()
        ready.set()
        until(lambda now: state(now) is DownloadState.IDLE and now.message is not None)
        now = until(lambda now: now.work is None)
        assert str(now.message.text) == "Stopped: nothing was changed."
        assert not now.stick_in_use
    left = {path for path in stick.rglob("*") if path.is_file()} - before
    assert not left
    assert not list((stick / FOLDER).glob("*"))


def stopping_at(percent: int) -> Told:
    def told(done: int, of: int) -> None:
        if 100 * done >= percent * of:
            raise StoppedError

    return told


@pytest.mark.parametrize("percent", [1, 20, 34, 66])
def test_a_bench_half_saved_is_taken_away_again(tmp_path: Path, percent: int) -> None:
    data, stick = tmp_path / "data", tmp_path / "stick"
    Archive.open(data / "archive.sqlite", lambda: None).close()
    with sqlite3.connect(data / "archive.sqlite") as other:
        other.execute("CREATE TABLE filler AS SELECT randomblob(4000000) AS filling")
    other.close()
    with pytest.raises(StoppedError):
        save_bench(data, stick, None, stopping_at(percent))
    assert not list(stick.iterdir())
    heard: list[tuple[int, int]] = []
    saved = save_bench(data, stick, None, lambda done, of: heard.append((done, of)))
    shares = [done / of for done, of in heard]
    assert len(shares) > 3
    assert shares == sorted(shares)
    (tmp_path / "new").mkdir()
    with pytest.raises(StoppedError):
        fetch_bench(saved, tmp_path / "new", stopping_at(min(percent, 49)))
    assert not list((tmp_path / "new").iterdir())


def test_a_folder_half_written_is_taken_away_again(tmp_path: Path) -> None:
    files = {f"{number}.txt": b"x" for number in range(10)}
    with pytest.raises(StoppedError):
        write_folder(files, tmp_path / "out" / "folder", stopping_at(50))
    assert not list((tmp_path / "out").iterdir())


PORT = Port(path="/dev/serial/by-id/usb-adapter", device="/dev/ttyUSB0", description="serial adapter")


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (ListenPort(path=PORT.path), "listening to serial adapter"),
        (LookForRadio(), "listening for instruments on radio"),
    ],
)
def test_a_search_for_instruments_is_stopped(under_test, tmp_path: Path, command: object, words: str) -> None:
    woken, go_on = threading.Semaphore(0), threading.Event()

    def searching(told: Told) -> None:
        told(1, 4)
        assert go_on.wait(WAIT_S)
        told(2, 4)
        raise AssertionError("it was stopped")

    def recognise(path: str, *, ask: bool = False, told: Told) -> Recognition:
        searching(told)
        raise AssertionError(path)

    def radio(told: Told) -> tuple[Port, ...]:
        searching(told)
        return ()

    def until(wanted: Callable[[Snapshot], bool]) -> Snapshot:
        while not wanted(snapshot := under_test.pump()):
            assert woken.acquire(timeout=WAIT_S)
        return snapshot

    under_test.bench.subscribe(woken.release)
    cables = Cables(
        SettingsStore(tmp_path), make_link=make_link, recognise=recognise, watch=PlugWatch(lambda: (PORT,)), radio=radio
    )
    cables.start(under_test.bench.post)
    try:
        under_test.use_cables(cables)
        until(lambda now: bool(now.ports))
        under_test.bench.send(command)
        work = stoppable(under_test, until)
        assert str(work.words) == f"{words}: 25 %"
        under_test.bench.send(StopWork(key=work.key))
        under_test.pump()
        go_on.set()
        now = until(lambda now: now.work is None and not any(port.listening for port in now.ports))
        assert [port.path for port in now.ports] == [PORT.path]
    finally:
        cables.close()


def test_parts_are_shares_of_the_whole() -> None:
    heard: list[float] = []
    for part in range(3):
        told = in_part(lambda done, of: heard.append(done / of), part, 3)
        for done in range(5):
            told(done, 4)
    assert heard == sorted(heard)
    assert (heard[0], heard[-1]) == (0.0, 1.0)

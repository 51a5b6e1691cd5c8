"""Updates by touch: asked first, said in words; behind the screens the real helper on a real socket."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import NotAvailableError
from core.said import said
from hardware.helper_client import Verb, ask_helper
from hardware.privileged_helper import deeds, serve
from hardware.releases import Change, Phase, begin_trial, current_release, first_screen
from hardware.root_verbs import RootPlaces
from hardware.update_verbs import OpenStick, look_for_update
from hardware.usb_stick import Stick
from tests.hardware.update_bits import HERE, InstalledProgram
from tests.patience import WAIT_S
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES, with_update
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import find_text, tap_text
from ui.bench.bench import Bench
from ui.bench.desks.download import Download
from ui.bench.desks.update import ChangeVersion, UpdateStep
from ui.bench.desks.work import STOPPABLE_S, StopWork
from ui.bench.workers.downloads import DownloadMoved, WaysSeen
from ui.bench.workers.updates import UpdateMoved, came_back, installed_update, outcome_text
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadState, UpdateSlice, UpdateState

LOOK, LEAVE, INSTALL, GO_BACK = (ChangeVersion(step=step) for step in UpdateStep)
STICK = Stick(partition="sda1", label="plain stick", size_bytes=10**9, write_protected=False)


class NoArchive:
    def submit(self, _task: object) -> None:
        """Nothing is stored here."""


class NoDownloads:
    def download(self, _record: object, _way: object) -> None:
        raise AssertionError("nothing may be written now")


class UpdateBench:
    """A bench whose helper is the real one, on folders."""

    def __init__(self, installed: InstalledProgram, path: Path, **given: object) -> None:
        def ask(verb: Verb, *words: str, progress: Callable[[str], None], begun: Callable[..., None]) -> str:
            return ask_helper(verb, *words, socket_path=path, progress=progress, begun=begun)

        self._woken = threading.Semaphore(0)
        self.now_s = 0.0
        view = UpdateSlice(running="0.1.0")
        self.bench = Bench(archive=NoArchive(), clock_s=lambda: self.now_s, update=view, ask_root=ask, **given)  # type: ignore[arg-type]
        self.bench.subscribe(self._woken.release)
        self.bench.send(WaysSeen(sticks=(STICK,), cable=False))
        self.seen: list[str] = []

    def until(self, state: UpdateState) -> UpdateSlice:
        while (view := self.view()).state is not state:
            assert self._woken.acquire(timeout=WAIT_S), f"it stayed {view.state}: {view.text}"
        return view

    def view(self) -> UpdateSlice:
        view = self.bench.pump().update
        assert view is not None
        self.seen.append(f"{view.state}: {view.text}")
        return view


@pytest.fixture
def installed(tmp_path: Path) -> InstalledProgram:
    return InstalledProgram(tmp_path)


@contextmanager
def helper_on(installed: InstalledProgram, folder: Path, open_stick: OpenStick) -> Iterator[Path]:
    """The helper at its socket; only its stick is a folder."""
    path = folder / "helper.sock"
    verbs = dict(deeds(installed.places, owner_uid=os.getuid(), owner_gid=os.getgid()))
    verbs[Verb.LOOK_FOR_UPDATE] = lambda say, partition: look_for_update(
        installed.places, partition, say, open_stick=open_stick
    )
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        allowed = frozenset({os.getuid()})
        served = threading.Thread(target=serve, args=(listener, allowed, verbs), kwargs={"idle_s": 1.0})
        served.start()
        yield path
        served.join(timeout=WAIT_S)
        assert not served.is_alive()


@pytest.fixture
def helper(installed: InstalledProgram, tmp_path: Path) -> Iterator[Path]:
    with helper_on(installed, tmp_path, installed.open_stick) as path:
        yield path


def test_what_is_on_the_stick_is_said_before_anything_is_done(installed: InstalledProgram, helper: Path) -> None:
    installed.on_stick()
    bench = UpdateBench(installed, helper)
    bench.bench.send(LOOK)
    assert bench.until(UpdateState.FOUND).found == "0.2.0"
    assert current_release(installed.program) == HERE
    bench.bench.send(LEAVE)
    assert bench.until(UpdateState.IDLE).found == ""


def test_a_refusal_is_said_and_can_be_tried_again(installed: InstalledProgram, helper: Path) -> None:
    bench = UpdateBench(installed, helper)
    bench.bench.send(LOOK)
    assert "no update on the stick" in str(bench.until(UpdateState.FAILED).text)
    message = bench.bench.pump().message
    assert message is not None
    assert message.alarm
    installed.on_stick()
    bench.bench.send(LOOK)
    assert bench.until(UpdateState.FOUND).found == "0.2.0"


def test_an_update_that_cannot_be_installed_leaves_what_runs(installed: InstalledProgram, helper: Path) -> None:
    """There are no libraries to take over in this folder: the real thing fails on the way, and says so."""
    installed.on_stick()
    bench = UpdateBench(installed, helper)
    bench.bench.send(LOOK)
    bench.until(UpdateState.FOUND)
    bench.bench.send(INSTALL)
    assert bench.until(UpdateState.INSTALLING).state.is_busy
    assert bench.until(UpdateState.FAILED).text
    assert current_release(installed.program) == HERE
    assert any("Taking over the libraries." in line for line in bench.seen)


def test_an_update_is_called_off_while_it_is_looked_at(installed: InstalledProgram, tmp_path: Path) -> None:
    """The stick is slow: it gives its files away once the person has lost patience, and the helper hears of that at its
    next word."""
    installed.on_stick()
    slow = threading.Event()

    @contextmanager
    def open_stick(places: RootPlaces, partition: str) -> Iterator[Path]:
        assert slow.wait(WAIT_S)
        with installed.open_stick(places, partition) as folder:
            yield folder

    with helper_on(installed, tmp_path, open_stick) as path:
        bench = UpdateBench(installed, path)
        bench.bench.send(LOOK)
        bench.until(UpdateState.LOOKING)
        # How far it is comes with the helper's first word, be it before or after the time to stop.
        while not (now := bench.bench.pump()).work or not now.work.can_stop or "%" not in str(now.work.words):
            bench.now_s += STOPPABLE_S
            bench.bench.pump()
        assert str(now.work.words) == "looking at the update: 0 %"
        bench.bench.send(StopWork(key=now.work.key))
        bench.bench.pump()
        slow.set()
        assert str(bench.until(UpdateState.FAILED).text) == "stopped: nothing was installed"
        assert bench.bench.pump().work is None
    assert not (installed.program / "incoming").exists()
    assert current_release(installed.program) == HERE


def sent_to(view: UpdateSlice | None, *commands: object, **changes: object) -> tuple[Snapshot, list[str]]:
    """What the bench makes of commands, and what it asked the helper for."""
    asked: list[str] = []
    done = threading.Semaphore(0)

    def ask(verb: Verb, *words: str, progress: Callable[[str], None], begun: Callable[..., None]) -> str:
        asked.append(" ".join((verb, *words)))
        done.release()
        raise NotAvailableError("no helper")

    bench = Bench(archive=NoArchive(), clock_s=lambda: 0.0, update=view, ask_root=ask)
    bench.send(WaysSeen(sticks=changes.get("sticks", (STICK,)), cable=False))  # type: ignore[arg-type]
    for command in commands:
        bench.send(command)  # type: ignore[arg-type]
    snapshot = bench.pump()
    if snapshot.update and snapshot.update.state.is_busy:
        assert done.acquire(timeout=WAIT_S)
    return snapshot, asked


FOUND = UpdateSlice(running="0.1.0", before="0.0.9", state=UpdateState.FOUND, found="0.2.0")


def test_each_touch_asks_for_one_thing() -> None:
    assert sent_to(FOUND, INSTALL)[1] == ["install-update 0.2.0"]
    assert sent_to(FOUND, GO_BACK)[1] == ["go-back"]
    assert sent_to(FOUND, LOOK)[1] == ["look-for-update sda1"]
    assert sent_to(FOUND, INSTALL, INSTALL, LOOK)[1] == ["install-update 0.2.0"]


def test_what_is_said_of_a_failed_update_goes_when_the_stick_is_looked_at_again() -> None:
    """Beside 'Update found', and in its colour beside 'looking', the foot still said that nothing was updated."""
    failed = UpdateMoved(state=UpdateState.FAILED, text=said("zebra"))
    told = sent_to(FOUND, failed)[0].message
    assert told is not None
    assert told.alarm
    assert sent_to(FOUND, failed, LOOK)[0].message is None


def test_what_cannot_be_done_is_not_asked_for() -> None:
    assert sent_to(None, LOOK, INSTALL, GO_BACK)[1] == []
    assert sent_to(replace(FOUND, state=UpdateState.IDLE), INSTALL)[1] == []
    assert sent_to(replace(FOUND, before=""), GO_BACK)[1] == []


@pytest.mark.parametrize(("sticks", "words"), [((), "no USB stick"), ((STICK, STICK), "2 sticks")])
def test_there_must_be_the_one_stick(sticks: tuple[Stick, ...], words: str) -> None:
    snapshot, asked = sent_to(FOUND, LOOK, sticks=sticks)
    assert asked == []
    assert snapshot.update is not None
    assert words in str(snapshot.update.text)


def test_installing_is_asked_first_and_leaving_leaves() -> None:
    with Offscreen(StandInBench(SCENES["update-found"]())) as screen:
        screen.go("update")
        assert "0.3.0 is signed and whole; 0.2.0 runs now." in str(screen.app.root.screen.page.text)
        assert "stays open with its 16 readings" in str(screen.app.root.screen.page.text)
        assert screen.bench.sent == []
        tap_text(screen, "Not now")
        tap_text(screen, "Install 0.3.0")
        assert screen.bench.sent == [LEAVE, INSTALL]


def test_going_back_is_asked_first() -> None:
    with Offscreen(StandInBench(with_update(UpdateState.IDLE))) as screen:
        screen.go("update")
        tap_text(screen, "Back to 0.1.0")
        assert "0.1.0 ran before 0.2.0" in str(screen.app.root.screen.page.text)
        tap_text(screen, "Stay on 0.2.0")
        assert screen.bench.sent == []
        tap_text(screen, "Back to 0.1.0")
        tap_text(screen, "Back to 0.1.0")
        assert screen.bench.sent == [GO_BACK]


def test_nothing_can_be_touched_while_it_works() -> None:
    with Offscreen(StandInBench(SCENES["update-installing"]())) as screen:
        screen.go("update")
        assert screen.app.root.screen.page.choices == ()
        assert "Taking over the libraries." in str(screen.app.root.screen.page.text)


def test_the_way_leads_through_setup_and_switching_off_waits() -> None:
    given = {"switch_off": lambda: "", "set_clock": lambda _moment: ""}
    with Offscreen(StandInBench(with_update(UpdateState.IDLE)), **given) as screen:
        screen.go("setup")
        assert find_text(screen, "Switch off")
        tap_text(screen, "Update")
        assert screen.app.root.screen.name == "update"
        screen.show(SCENES["update-installing"]())
        screen.go("setup")
        assert screen.app.root.screen.ids.off.choices == []
        assert str(screen.app.root.screen.text).startswith("An update is under way")


TAKEN_BACK = Change(phase=Phase.TAKEN_BACK, came_from="0.1.0-1", goes_to="0.2.0-2")


def test_what_became_of_a_change_is_said_in_words() -> None:
    assert str(outcome_text(None)) == ""
    assert (
        str(outcome_text(TAKEN_BACK._replace(phase=Phase.RUNS)))
        == "Version 0.2.0 runs here now. It took the place of 0.1.0."
    )
    assert "0.2.0 did not start. 0.1.0 runs again: nothing of your sessions" in str(outcome_text(TAKEN_BACK))
    assert "cut off. 0.1.0 runs on" in str(outcome_text(TAKEN_BACK._replace(phase=Phase.NOT_SWITCHED)))


def test_only_what_runs_from_a_release_can_be_updated(installed: InstalledProgram, tmp_path: Path) -> None:
    release = installed.program / "releases" / HERE
    assert installed_update(installed.program, tmp_path) is None
    assert installed_update(tmp_path / "nowhere", release) is None
    assert installed_update(installed.program, release) == UpdateSlice(running="0.1.0")


def test_news_is_said_on_the_first_start_only(installed: InstalledProgram) -> None:
    release = installed.release("0.2.0-2")
    begin_trial(installed.program, release.name)
    view = installed_update(installed.program, release)
    assert view is not None
    assert str(view.news) == str(view.last) == "Version 0.2.0 runs here now. It took the place of 0.1.0."
    assert view.before == "0.1.0"
    assert not came_back(installed.program)
    first_screen(installed.program)
    later = installed_update(installed.program, release)
    assert later is not None
    assert (str(later.news), later.last) == ("", view.last)
    begin_trial(installed.program, HERE)
    assert came_back(installed.program)


def test_news_is_read_on_the_bench() -> None:
    with Offscreen(StandInBench(SCENES["update-taken-back"]())) as screen:
        screen.go("bench")
        assert screen.app.speech.say(screen.app.root.screen.message).startswith(
            "Version 0.3.0 did not start. 0.2.0 runs again"
        )


def test_one_thing_at_a_time_with_stick_and_helper() -> None:
    """The helper does one thing after the other: what is asked meanwhile would only wait for it in silence."""
    writing = Bench(archive=NoArchive(), clock_s=lambda: 0.0, update=FOUND)
    writing.send(WaysSeen(sticks=(STICK,), cable=False))
    writing.send(DownloadMoved(session="s", state=DownloadState.WRITING, text="writing"))
    for command in (LOOK, INSTALL, GO_BACK):
        writing.send(command)
        assert writing.pump().update == FOUND
    updating = replace(FOUND, state=UpdateState.INSTALLING)
    downloads = NoDownloads()
    busy = Bench(archive=NoArchive(), clock_s=lambda: 0.0, update=updating, downloads=downloads)
    busy.send(Download(session="s"))
    message = busy.pump().message
    assert message is not None
    assert message.alarm
    assert busy.pump().download.state is DownloadState.IDLE

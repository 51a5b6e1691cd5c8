"""No thread dies unseen: each is made to fail in a way that nobody foresaw, and goes on, answers, and is said."""

from __future__ import annotations

import os
import sqlite3
import threading
from contextlib import closing, suppress
from pathlib import Path
from queue import Queue

import pytest

from core.metrology.readings import Indication, Quantity, Unit
from core.records.archive import Archive
from core.records.events import Note
from core.said import Name
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkState
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.patience import WAIT_S
from tests.ui.bench_bits import running_bench
from ui.bench.desks.machines import LoadMachines
from ui.bench.inbox import WAITING, Inbox
from ui.bench.supervision import BUSY_S, IDLE_S, Pulse
from ui.bench.workers.archive_tasks import NotStored, append
from ui.bench.workers.archive_thread import ArchiveOpened, ArchiveRefused, ArchiveThread
from ui.bench.workers.downloads import Downloads
from ui.bench.workers.inspector import Inspector

GARBLED = Fault(reason=FaultReason.GARBLED, text=Name("no line of this format"))


class UnforeseenError(Exception):
    """Nothing in the program knows it."""


def failing(*_args: object, **_kwargs: object) -> None:
    raise UnforeseenError("Ana's coupon")


def test_a_task_that_fails_is_answered_and_the_archive_goes_on(tmp_path: Path) -> None:
    reports: Queue[object] = Queue()
    archive = ArchiveThread(lambda: Archive.open(tmp_path / "archive.sqlite", lambda: None))
    archive.start(reports.put)
    assert isinstance(reports.get(timeout=WAIT_S), ArchiveOpened)
    for _ in range(3):
        archive.submit(failing)
        answer = reports.get(timeout=WAIT_S)
        assert isinstance(answer, NotStored)
        assert "UnforeseenError" in str(answer.text)
        assert "Ana" not in str(answer.text)
    archive.submit(lambda opened: NotStored(text=f"{len(opened.sessions())} sessions"))
    assert reports.get(timeout=WAIT_S) == NotStored(text="0 sessions")
    assert archive.pulse.is_alive()
    archive.close()


def test_an_archive_that_fails_to_open_in_a_new_way_refuses_everything(tmp_path: Path) -> None:
    reports: Queue[object] = Queue()
    archive = ArchiveThread(failing)
    archive.start(reports.put)
    assert isinstance(reports.get(timeout=WAIT_S), ArchiveRefused)
    archive.submit(lambda opened: NotStored(text="reached"))
    answer = reports.get(timeout=WAIT_S)
    assert isinstance(answer, NotStored)
    assert "UnforeseenError" in str(answer.text)
    archive.close()


def test_an_archive_removed_under_the_bench_is_put_back_and_the_bench_goes_on(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.open()
        session = under_test.bench.snapshot.session
        (tmp_path / "archive.sqlite").unlink()
        assert session is not None
        under_test.archive.submit(append(session, Note(text="birch")))
        refused = under_test.stored()
        assert refused.message is not None
        assert "removed or replaced" in str(refused.message.text)
        under_test.archive.submit(lambda opened: NotStored(text=Name(f"goes on with {opened.unfinished()}")))
        again = under_test.stored()
        assert again.message is not None
        assert f"goes on with {session}" in str(again.message.text)


def test_a_desk_that_fails_leaves_the_bench_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with running_bench(tmp_path, errors_meant=True) as under_test:
        bench = under_test.bench
        monkeypatch.setattr(bench, "_routes", {**bench._routes, LoadMachines: (failing,)})
        bench.send(LoadMachines())
        said = bench.pump().message
        assert said is not None
        assert said.alarm
        assert "bench (UnforeseenError)" in str(said.text)
        monkeypatch.undo()
        under_test.open()
        assert bench.snapshot.session


def test_a_failing_errand_does_not_end_the_downloads(monkeypatch: pytest.MonkeyPatch) -> None:
    done = threading.Event()
    downloads = Downloads(find_sticks=failing, access=None)  # type: ignore[arg-type]
    reports: Queue[object] = Queue()
    downloads.start(reports.put)
    downloads.run(failing)
    assert "UnforeseenError" in str(reports.get(timeout=WAIT_S))
    downloads.run(lambda post: done.set())
    assert done.wait(WAIT_S)
    downloads.close()


def test_work_that_takes_long_is_alive_and_a_silent_thread_is_not() -> None:
    now = [0.0]
    pulse = Pulse(lambda: now[0])
    pulse.beat(busy=True)
    now[0] = 60.0  # a sync on a dying card
    assert pulse.is_alive()
    now[0] = BUSY_S + 1.0
    assert not pulse.is_alive()
    pulse.beat()
    now[0] += IDLE_S + 1.0
    assert not pulse.is_alive()


def test_the_queue_stays_bounded_whatever_the_cables_say_and_drops_no_command() -> None:

    inbox: Inbox[object] = Inbox()
    for number in range(10_000):
        shown = Indication(shown=float(number), unit=Unit.MM)
        for name in ("caliper", "depth gauge"):
            inbox.put(IndicationArrived(instrument=name, indication=shown, arrived_s=0.0))
            inbox.put(FaultSeen(instrument=name, fault=GARBLED, arrived_s=0.0))
        if number % 100 == 0:
            inbox.put(f"command {number}")
    assert len(inbox) == 4 * WAITING + 100
    taken = inbox.take(1_000_000)
    said = [event for event in taken if isinstance(event, IndicationArrived) and event.instrument == "caliper"]
    assert said[-1].indication.shown == 9_999.0
    faults = [event for event in taken if isinstance(event, FaultSeen) and event.instrument == "caliper"]
    assert sum(event.count for event in faults) == 10_000
    assert [event for event in taken if isinstance(event, str)] == [f"command {n}" for n in range(0, 10_000, 100)]
    assert len(inbox) == 0


@pytest.mark.parametrize("line", [b"+  143.62 MM\r\n" * 200, os.urandom(2800)], ids=["valid lines", "garbage"])
def test_a_cable_that_floods_is_named_and_muted(tmp_path: Path, line: bytes) -> None:
    """As fast as a pseudo-terminal takes it, far above 1 MB a second."""

    cable = PseudoTerminal(tmp_path / "caliper")
    cable.plug()
    stop = threading.Event()

    def flood() -> None:
        with suppress(OSError):  # pulled in the middle of a line
            while not stop.is_set():
                cable.write(line)

    flooding = threading.Thread(target=flood)
    events: Queue[object] = Queue()
    settings = InstrumentSettings(
        name="caliper", port=str(cable.path), format_name="length-8-unit", quantity=Quantity.LENGTH
    )
    with closing(make_link(settings)) as link:
        link.start(events.put)
        flooding.start()
        while True:
            event = events.get(timeout=WAIT_S)
            if isinstance(event, LinkChanged) and event.state is LinkState.LOST:
                break
        stop.set()
        # So much was decoded before it was muted, and no more.
        assert events.qsize() < 20_000
    cable.pull()
    flooding.join()
    assert event.instrument == "caliper"
    assert str(event.text).startswith("muted")


def test_the_inspector_says_what_the_card_did_to_a_closed_session(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        session = under_test.open().session
        assert session is not None
        under_test.archive.submit(append(session, Note(text="birch")))
        under_test.stored()
        with sqlite3.connect(tmp_path / "archive.sqlite") as other:
            other.execute("UPDATE event SET payload = replace(payload, 'birch', 'birth')")
        other.close()
        inspector = Inspector(tmp_path / "archive.sqlite", begin_s=0.0)
        arrived = threading.Event()
        under_test.bench.subscribe(arrived.set)
        arrived.clear()
        inspector.start(under_test.bench.post)
        assert arrived.wait(WAIT_S)
        said = under_test.pump().message
        inspector.close()
        assert said is not None
        assert f"Session {session}: 1 of 2 events are damaged" in str(said.text)

"""What was done last is taken back for ten seconds, by one command; the record keeps both."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.features import DIAGONALS, Feature
from core.machine.machine_log import (
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    EntryUndone,
    GuidedStep,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    StepDone,
)
from core.records.archive import Archive
from core.records.events import Closed, ReadingAccepted, ReadingVoided, Undone
from core.records.inspection import inspect
from core.records.session import TAKEN_BACK, Session
from firmware_bridge.instrument_settings import InstrumentSettings
from tests.core.machine.test_guided_correction import ROUTER
from tests.core.machine.test_log_words import BEGUN
from tests.ui.bench_bits import SKEWED, BenchUnderTest, running_bench
from tests.ui.scenes import with_cable
from ui.bench.bench import UNDO_S
from ui.bench.desks.cables import CableDesk, ForgetInstrument, UseInstrument
from ui.bench.desks.machines import (
    AbandonCorrection,
    GuidedAnswer,
    LoadMachines,
    LogCoarseReset,
    LogMachineEvent,
    SaveMachine,
    TakeBackEntry,
)
from ui.bench.desks.measuring import CloseSession, ResumeSession, TakeBack, VoidReading
from ui.bench.workers.cables import CablePort
from ui.state.messages import Command
from ui.state.snapshot import Snapshot
from ui.terminal.commands import parse_line


@pytest.fixture
def under_test(tmp_path: Path):
    with running_bench(tmp_path) as running:
        running.open()
        for feature in DIAGONALS:
            running.indicate(SKEWED[feature], pressed=True)
            running.settled()
        yield running


def undone(running: BenchUnderTest) -> Snapshot:
    before = running.pump().undo
    assert before is not None
    running.bench.send(before.command)
    return running.settled()


def kinds(now: Snapshot) -> list[type]:
    return [type(event.payload) for event in now.log]


def test_a_reading_is_taken_back_and_stays_in_the_record(under_test: BenchUnderTest) -> None:
    now = undone(under_test)
    assert [reading.voided for reading in now.readings] == [None, TAKEN_BACK]
    assert kinds(now)[-2:] == [ReadingAccepted, Undone]
    assert now.next_length is Feature.NR_FL
    assert now.undo is None


def test_a_void_is_taken_back_and_the_reading_counts_again(under_test: BenchUnderTest) -> None:
    first = under_test.pump().readings[0]
    under_test.bench.send(VoidReading(number=first.number, reason="slipped"))
    assert under_test.settled().readings[0].voided == "slipped"
    now = undone(under_test)
    assert now.readings[0].voided is None
    assert kinds(now)[-2:] == [ReadingVoided, Undone]


def test_a_finish_is_taken_back_and_the_coupon_goes_on_after_a_restart_too(
    under_test: BenchUnderTest, tmp_path: Path
) -> None:
    under_test.bench.send(CloseSession())
    closed = under_test.settled()
    assert closed.closed
    now = undone(under_test)
    assert (now.closed, now.session) == (False, closed.session)
    assert kinds(now)[-2:] == [Closed, Undone]
    assert now.records.last_closed is None
    under_test.indicate(SKEWED[Feature.NL_FR], pressed=True)
    assert len(under_test.settled().readings) == 3
    with running_bench(tmp_path) as after:
        after.bench.send(ResumeSession())
        assert after.settled().session == closed.session
        after.bench.send(CloseSession())
        again = after.settled()
        assert again.closed
        assert again.records.last_closed.id == closed.session


def test_it_can_be_taken_back_for_ten_seconds(under_test: BenchUnderTest) -> None:
    under_test.now_s += UNDO_S - 0.5
    assert under_test.pump().undo is not None
    under_test.now_s += 1.0
    assert under_test.pump().undo is None
    assert parse_line("undo", under_test.pump()) != TakeBack(number=3)
    under_test.bench.send(TakeBack(number=3))
    now = under_test.settled()
    assert now.message.alarm
    assert [reading.voided for reading in now.readings] == [None, None]


def test_two_touches_take_back_one_thing(under_test: BenchUnderTest) -> None:
    command = under_test.pump().undo.command
    under_test.bench.send(command)
    under_test.bench.send(command)
    now = under_test.settled()
    assert kinds(now).count(Undone) == 1
    assert [reading.voided for reading in now.readings] == [None, TAKEN_BACK]


def test_only_what_was_done_last_is_taken_back(under_test: BenchUnderTest) -> None:
    first = under_test.pump().readings[0]
    under_test.bench.send(TakeBack(number=first.number))
    assert under_test.settled().message.alarm


def test_typed_in_the_terminal_it_is_the_same(under_test: BenchUnderTest) -> None:
    now = under_test.pump()
    assert parse_line("undo", now) == now.undo.command


def test_the_fold_of_the_record_is_what_the_bench_shows(under_test: BenchUnderTest) -> None:
    now = undone(under_test)
    session = Session.from_events(now.log)
    assert [item.voided for item in session.readings] == [reading.voided for reading in now.readings]


class Forgetting(CablePort):
    """Remembers what it was told to use."""

    def __init__(self) -> None:
        self.used: list[InstrumentSettings] = []

    def use(self, settings: InstrumentSettings, *, by_hand: bool = False) -> None:
        self.used.append(settings)


def test_a_forgotten_instrument_is_used_again_as_it_was() -> None:
    cables = Forgetting()
    desk = CableDesk(cables)
    shown = with_cable()
    (used,) = shown.cables
    forgotten = desk.takes[ForgetInstrument](shown, ForgetInstrument(port=used.settings.port))
    assert forgotten.undo is not None
    again = desk.takes[UseInstrument](replace(forgotten, cables=()), forgotten.undo.command)
    assert cables.used == [used.settings]
    assert again.undo is None


@pytest.fixture
def at_the_machine(tmp_path: Path):
    with running_bench(tmp_path) as running:
        running.bench.send(SaveMachine(profile=ROUTER))
        running.settled()
        running.bench.send(LogCoarseReset(reset=CoarseReset.FRAME))
        running.settled()
        yield running


CRASH = LogMachineEvent(kind=MachineEventKind.CRASH, note="hit a clamp")


def logged(folder: Path) -> list[type]:
    """What the file holds, once the bench has let go of it; its chain is whole."""
    path = folder / "archive.sqlite"
    assert inspect(path, lambda: False).whole
    archive = Archive.open(path, lambda: None)
    try:
        return [type(entry.payload) for entry in archive.machine_log(ROUTER.name)]
    finally:
        archive.close()


@pytest.mark.parametrize(
    ("command", "kind"),
    [
        (CRASH, MachineEvent),
        (LogCoarseReset(reset=CoarseReset.END_STOP), CorrectionApplied),
        (AbandonCorrection(reason="lunch"), CorrectionAbandoned),
    ],
    ids=lambda value: getattr(value, "__name__", type(value).__name__),
)
def test_what_was_noted_of_a_machine_is_taken_back_and_the_record_keeps_both(
    at_the_machine: BenchUnderTest, tmp_path: Path, command: Command, kind: type
) -> None:
    before = at_the_machine.pump()
    at_the_machine.bench.send(command)
    noted = at_the_machine.settled()
    assert [type(entry.payload) for entry in noted.machines.log] == [CorrectionApplied, kind]
    assert parse_line("undo", noted) == noted.undo.command
    now = undone(at_the_machine)
    assert now.undo is None
    assert (now.machines.log, now.machines.guided) == (before.machines.log, before.machines.guided)
    at_the_machine.archive.close()
    assert logged(tmp_path) == [CorrectionApplied, kind, EntryUndone]
    with running_bench(tmp_path) as after:
        after.bench.send(LoadMachines())
        assert [type(entry.payload) for entry in after.settled().machines.log] == [CorrectionApplied]


def test_a_correction_given_up_by_mistake_goes_on_where_it_was(tmp_path: Path) -> None:
    stored_before(tmp_path, BEGUN)
    with running_bench(tmp_path) as running:
        running.bench.send(LoadMachines())
        running.settled()
        running.bench.send(GuidedAnswer())
        under_way = running.settled().machines.guided
        assert under_way is not None
        running.bench.send(AbandonCorrection(reason="untouched"))
        assert running.settled().machines.guided is None
        assert undone(running).machines.guided == under_way


def stored_before(folder: Path, payload: LogPayload) -> None:
    archive = Archive.open(folder / "archive.sqlite", lambda: None)
    archive.save_machine(ROUTER)
    archive.append_machine_event(ROUTER.name, payload)
    archive.close()


def test_a_step_that_was_done_cannot_be_taken_back(tmp_path: Path) -> None:
    stored_before(tmp_path, StepDone(step=GuidedStep.LOOSENED))
    with running_bench(tmp_path) as running:
        running.bench.send(LoadMachines())
        assert running.settled().undo is None
        running.bench.send(TakeBackEntry(machine=ROUTER.name, number=1))
        now = running.settled()
        assert now.message.alarm
        assert [type(entry.payload) for entry in now.machines.log] == [StepDone]


def test_two_touches_take_back_one_crash(at_the_machine: BenchUnderTest, tmp_path: Path) -> None:
    at_the_machine.bench.send(CRASH)
    command = at_the_machine.settled().undo.command
    at_the_machine.bench.send(command)
    at_the_machine.bench.send(command)
    at_the_machine.settled()
    at_the_machine.archive.close()
    assert logged(tmp_path).count(EntryUndone) == 1

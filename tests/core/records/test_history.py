"""A machine's history out of a real archive: what came before what is told by the order of its logs, not the clock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.machine.machine_log import CoarseReset, CorrectionApplied, LogPayload, MachineEvent, MachineEventKind
from core.records.archive import Archive
from core.records.events import Closed, Opened
from core.records.history import history_of

CLOSED = Closed(verdict="go", size_verdict="go", skew_deg=0.0, skew_u95_deg=0.06, software="test")
DONE = (
    CorrectionApplied(session="", made_mm=3.9),
    CorrectionApplied(session="", made_mm=None, coarse=CoarseReset.END_STOP),
    MachineEvent(kind=MachineEventKind.CRASH),
)
TODAY, AHEAD, BEHIND = (datetime(year, 3, 1, 14, 5, tzinfo=UTC) for year in (2026, 2031, 2021))


class Bench:
    """An archive whose clock is set by hand."""

    def __init__(self, path: Path, opened: Opened) -> None:
        self.at, self._opened = TODAY, opened
        self.archive = Archive.open(path, lambda: self.at)

    def measure(self, at: datetime) -> str:
        self.at = at
        session = self.archive.begin(self._opened)
        self.archive.append(session, CLOSED)
        return session

    def log(self, at: datetime, payload: LogPayload) -> None:
        self.at = at
        self.archive.append_machine_event(self._opened.machine, payload)

    def since(self) -> list[str]:
        history = history_of(self.archive, self._opened.machine).history
        assert history is not None
        return [one.session for one in history.since]

    def check_now(self) -> str:
        history = history_of(self.archive, self._opened.machine).history
        assert history is not None
        return str(history.check_now)


@pytest.fixture
def bench(tmp_path: Path, opened: Opened) -> Iterator[Bench]:
    made = Bench(tmp_path / "archive.sqlite", replace(opened, machine="template router"))
    with closing(made.archive):
        yield made


@pytest.mark.parametrize("done", DONE, ids=repr)
def test_a_coupon_dated_ahead_does_not_count_behind_what_was_done_after_it(bench: Bench, done: LogPayload) -> None:
    bench.measure(TODAY)
    bench.measure(AHEAD)
    bench.log(TODAY, done)
    assert bench.since() == []
    assert bench.check_now().startswith("Cut and measure a coupon now")
    checked = bench.measure(TODAY)
    assert bench.since() == [checked]
    assert bench.check_now() == ""


@pytest.mark.parametrize("done", DONE, ids=repr)
def test_what_was_done_while_the_clock_was_ahead_hides_no_coupon_after_it(bench: Bench, done: LogPayload) -> None:
    bench.measure(TODAY)
    bench.log(AHEAD, done)
    checked = bench.measure(BEHIND)
    assert bench.since() == [checked]
    assert bench.check_now() == ""

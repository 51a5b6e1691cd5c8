"""What is asked of an archive costs what it shows, however much nobody looks at lies beside it: SQLite's own steps are
counted, which are the same on any machine. In milliseconds: tests/benchmarks/ten_years.py."""

from collections.abc import Callable
from pathlib import Path

import pytest

from core.machine.profile import MachineProfile
from core.records import chained_tables
from core.records.archive import Archive
from core.records.chained_tables import EVENTS, head_of
from core.records.grid import grid_state
from core.records.history import history_of
from core.records.inspection import inspect
from tests.benchmarks.ten_years import OURS, Writer, now

FEW, MANY = 100, 600
QUESTIONS: dict[str, Callable[[Archive], object]] = {
    "what goes on": Archive.unfinished,
    "machines": Archive.machines,
    "last coupon": Archive.last_closed,
    "instruments": lambda archive: archive.instrument_book(simulated=True, on_bench=False),
    "how the last was opened": lambda archive: archive.last_opened(OURS),
    "of a new machine": lambda archive: archive.last_opened("a new one"),
    "carried on": lambda archive: archive.carried_on(operator="", simulated=True),
    "newest of all": lambda archive: archive.sessions(limit=20),
    "chart": lambda archive: history_of(archive, OURS),
    "bed": lambda archive: grid_state(archive, OURS),
    "closed before": lambda archive: archive.closed_before("s0000055"),
}


def filled(path: Path, count: int) -> Archive:
    """An archive with ten coupons of the machine in question, and so many in all."""
    archive = Archive.open(path, now)
    archive.save_machine(MachineProfile(name=OURS, span_mm=600.0))
    archive.close()
    writer = Writer(path)
    machines = (OURS if number < 50 and number % 5 == 0 else "another" for number in range(count))
    writer.add_all((number, machine, "", "") for number, machine in enumerate(machines))
    writer.close()
    return Archive.open(path, now)


def steps_of(archive: Archive, deed: Callable[[Archive], object]) -> int:
    """How many steps of its machine SQLite takes for this."""
    steps = 0

    def step() -> int:
        nonlocal steps
        steps += 1
        return 0

    archive._connection.set_progress_handler(step, 1)
    try:
        deed(archive)
    finally:
        archive._connection.set_progress_handler(None, 0)
    return steps


def test_questions_cost_what_they_show(tmp_path: Path) -> None:
    found = {}
    for count in (FEW, MANY):
        archive = filled(tmp_path / f"{count}.sqlite", count)
        found[count] = {words: steps_of(archive, deed) for words, deed in QUESTIONS.items()}
        archive.close()
    grown = {words: (steps, found[MANY][words]) for words, steps in found[FEW].items()}
    assert {words: pair for words, pair in grown.items() if pair[1] > 1.5 * pair[0] + 50} == {}


def test_opening_looks_at_the_ends_of_what_was_written_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chained_tables, "_NEWEST_ENTRIES", 100)
    monkeypatch.setattr(chained_tables, "_NEWEST_LOGS", 5)
    found = {}
    for count in (FEW, MANY):
        archive = filled(tmp_path / f"{count}.sqlite", count)
        found[count] = steps_of(archive, lambda one: chained_tables.loose_ends(one._connection, EVENTS))
        archive.close()
    assert found[MANY] <= 1.5 * found[FEW]


def test_an_old_head_that_was_hit_is_found_beside_and_written_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chained_tables, "_NEWEST_ENTRIES", 100)
    monkeypatch.setattr(chained_tables, "_NEWEST_LOGS", 5)
    path = tmp_path / "archive.sqlite"
    archive = filled(path, FEW)
    was = head_of(archive._connection, EVENTS, "s0000003")
    archive._connection.execute("UPDATE log_head SET chain = 'hit' WHERE log = 's0000003'")
    archive.close()
    archive = Archive.open(path, now)
    assert not archive.notice  # too old to be looked at while somebody waits
    hit = inspect(path, lambda: True).hit
    assert [one.log for one in hit] == ["s0000003"]
    archive.mend_heads(hit)
    assert head_of(archive._connection, EVENTS, "s0000003") == was
    assert inspect(path, lambda: True).whole
    archive.close()


def test_a_head_without_its_entries_among_the_newest_is_seen_at_once(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    archive = filled(path, FEW)
    archive._connection.execute("DELETE FROM event WHERE session_id = 's0000099'")
    archive.close()
    archive = Archive.open(path, now)
    assert "s0000099" in str(archive.notice)
    archive.close()

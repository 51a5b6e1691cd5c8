"""Instruments in the archive: what was used under a name, and their checks over the sessions."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.metrology.accuracy import DEFAULT_CALIPER
from core.metrology.readings import Quantity
from core.records import recovery
from core.records.archive import Archive
from core.records.events import GaugeChecked, Opened
from core.records.instrument_book import UsedInstrument
from core.records.instrument_tables import copy_instrument

CALIPER = UsedInstrument(
    name="caliper",
    quantity=Quantity.LENGTH,
    wire_format="sign and 3.3 digits",
    port_kind="serial line",
    accuracy=DEFAULT_CALIPER,
)


def check(zero: float, instrument: str = "caliper") -> GaugeChecked:
    return GaugeChecked(
        instrument=instrument,
        quantity=Quantity.LENGTH,
        zero=zero,
        zero_sd=0.007,
        reference="closed jaws",
        found=zero,
        found_sd=0.01,
    )


@pytest.fixture
def real(opened: Opened) -> Opened:
    return replace(opened, simulated=False)


def test_an_instrument_is_noted_anew_only_when_it_changed(archive: Archive, tmp_path: Path) -> None:
    coarser = replace(CALIPER, accuracy=replace(DEFAULT_CALIPER, repeatability=0.03))
    for used in (CALIPER, CALIPER, coarser, coarser, CALIPER):
        archive.note_instrument(used)
    assert archive.instrument_book(simulated=False, on_bench=False).used == (CALIPER,)
    other = sqlite3.connect(tmp_path / "bench" / "archive.sqlite")
    assert other.execute("SELECT count(*) FROM instrument").fetchone() == (3,)
    other.close()


def test_simulated_instruments_and_checks_are_kept_apart(archive: Archive, opened: Opened, real: Opened) -> None:
    archive.note_instrument(replace(CALIPER, simulated=True))
    archive.append(archive.begin(opened), check(0.02))
    session = archive.begin(real)
    assert archive.instrument_book(simulated=False, on_bench=True).checks == ()
    assert archive.instrument_book(simulated=False, on_bench=True).used == ()
    assert archive.checks_up_to(session, ("caliper",))[0].last is None
    (simulated,) = archive.instrument_book(simulated=True, on_bench=True).checks
    assert simulated.last is not None


def test_a_check_of_an_earlier_session_is_told_with_its_age(archive: Archive, real: Opened) -> None:
    """And what came later is not told of an earlier session."""
    sessions = [archive.begin(real) for _ in range(3)]
    archive.append(sessions[1], check(0.02))
    fourth = archive.begin(real)
    archive.append(fourth, check(0.05))
    after = archive.begin(real)
    told = [archive.checks_up_to(session, ("caliper",))[0] for session in (*sessions, fourth, after)]
    ages = [None if history.last is None else history.last.sessions_ago for history in told]
    assert ages == [None, 0, 1, 0, 1]
    assert told[3].before is not None
    assert (told[3].before.check.zero, told[3].before.sessions_ago) == (0.02, 2)
    assert told[2].before is None
    (next_time,) = archive.instrument_book(simulated=False, on_bench=False).checks
    assert next_time.last is not None
    assert next_time.last.sessions_ago == 2


def test_a_check_without_a_name_is_one_of_its_kind(archive: Archive, real: Opened) -> None:
    archive.append(archive.begin(real), check(0.02, instrument=""))
    (history,) = archive.instrument_book(simulated=False, on_bench=True).checks
    assert history.instrument == "caliper"


def test_another_benchs_check_is_none_of_this_benchs_caliper(
    archive: Archive, recorded: str, opened: Opened, tmp_path: Path, clock: Callable[[], datetime]
) -> None:
    other = Archive.open(tmp_path / "other.sqlite", clock)
    assert other.take_over(recorded, archive.events(recorded))
    assert other.instrument_book(simulated=True, on_bench=False).checks == ()
    assert other.checks_up_to(recorded, ("caliper",)) == archive.checks_up_to(recorded, ("caliper",))
    of_this_bench = other.append(other.begin(opened), check(0.05))
    (history,) = other.instrument_book(simulated=True, on_bench=True).checks
    assert history.last is not None
    assert (history.last.check, history.before) == (of_this_bench.payload, None)
    other.close()
    assert archive.instrument_book(simulated=True, on_bench=False).checks != ()


def test_a_damaged_archive_gives_instruments_and_checks_back(
    tmp_path: Path, clock: Callable[[], datetime], real: Opened
) -> None:
    path = tmp_path / "archive.sqlite"
    archive = Archive.open(path, clock)
    archive.note_instrument(CALIPER)
    archive.append(archive.begin(real), check(0.02))
    expected = archive.instrument_book(simulated=False, on_bench=True)
    archive.close()
    content = path.read_bytes()
    path.write_bytes(b"\0" * 4096 + content[4096:])
    archive = Archive.open(path, clock)
    found = archive.instrument_book(simulated=False, on_bench=True)
    archive.close()
    assert "1 session was recovered" in str(archive.notice)
    assert (found.used, found.checks) == (expected.used, expected.checks)


def test_rows_that_lie_where_instruments_would_are_not_taken_for_them(archive: Archive, recorded: str) -> None:
    """With a first page that is not its own, the table may begin on a page of another."""
    archive.note_instrument(CALIPER)
    for table in ("event", "session", "machine_profile"):
        for row in recovery.readable_rows(archive._connection, table, recovery.columns_of(archive._connection, table)):
            copy_instrument(archive._connection, row)
    assert archive.instrument_book(simulated=False, on_bench=True).used == (CALIPER,)

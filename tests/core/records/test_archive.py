from __future__ import annotations

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from threading import Barrier

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry.features import Feature
from core.metrology.readings import Reading
from core.records.archive import Archive
from core.records.events import Note, Opened, Payload, ReadingAccepted
from core.records.session import Session

Clock = Callable[[], datetime]


def test_what_was_appended_is_there_after_reopening(
    tmp_path: Path, clock: Clock, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    archive = Archive.open(tmp_path / "archive.sqlite", clock)
    session_id = archive.begin(opened)
    appended = [archive.append(session_id, payload) for payload in payloads]
    archive.close()
    archive = Archive.open(tmp_path / "archive.sqlite", clock)
    events = archive.events(session_id)
    archive.close()
    assert events[0].payload == opened
    assert list(events[1:]) == appended
    assert [event.sequence for event in events] == list(range(1, len(payloads) + 2))
    assert Session.from_events(events).closed is not None


def test_an_appended_event_is_committed_when_append_returns(archive: Archive, opened: Opened, tmp_path: Path) -> None:
    session_id = archive.begin(opened)
    archive.append(session_id, ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=119.93)))
    other = sqlite3.connect(tmp_path / "bench" / "archive.sqlite")
    assert other.execute("SELECT count(*) FROM event").fetchone() == (2,)
    assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    other.close()


def test_sessions_are_listed_newest_first(archive: Archive, opened: Opened, recorded: str) -> None:
    second = archive.begin(opened)
    newest, oldest = archive.sessions()
    assert (newest.id, oldest.id) == (second, recorded)
    assert (newest.closed, newest.verdict, newest.skew_deg) == (False, None, None)
    assert (oldest.closed, oldest.verdict, oldest.size_verdict) == (True, "no-go", "go")
    assert (oldest.skew_deg, oldest.skew_u95_deg) == (0.4567, 0.081)
    assert oldest.coupon == opened.coupon
    assert oldest.machine == "template router"
    assert oldest.simulated
    assert oldest.opened_utc == datetime(2026, 3, 1, 14, 5, 9, 250_000, tzinfo=UTC)
    assert [summary.id for summary in archive.sessions(limit=1)] == [second]


def test_only_a_session_never_closed_is_unfinished(
    archive: Archive, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    assert archive.unfinished() is None
    session_id = archive.begin(opened)
    assert archive.unfinished() == session_id
    for payload in payloads:
        archive.append(session_id, payload)
    assert archive.unfinished() is None


def test_an_unset_clock_leaves_time_unset_and_the_order_whole(tmp_path: Path, opened: Opened) -> None:
    archive = Archive.open(tmp_path / "archive.sqlite", lambda: None)
    session_id = archive.begin(opened)
    archive.append(session_id, Note(text="first"))
    archive.append(session_id, Note(text="second"))
    events = archive.events(session_id)
    summary = archive.sessions()[0]
    archive.close()
    assert [event.time_utc for event in events] == [None, None, None]
    assert [event.sequence for event in events] == [1, 2, 3]
    assert session_id.startswith("undated-")
    assert summary.opened_utc is None


def test_a_closed_session_takes_only_notes(archive: Archive, recorded: str) -> None:
    before = archive.events(recorded)
    with pytest.raises(BadInputError, match="closed"):
        archive.append(recorded, ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=119.93)))
    archive.append(recorded, Note(text="re-cut from the same sheet"))
    assert archive.events(recorded)[: len(before)] == before
    with pytest.raises(BadInputError, match="no session"):
        archive.append("20260101-000000-00000000", Note(text="x"))


def test_a_session_of_another_bench_is_taken_over_once(
    archive: Archive, recorded: str, tmp_path: Path, clock: Clock
) -> None:
    events = archive.events(recorded)
    other = Archive.open(tmp_path / "other" / "archive.sqlite", clock)
    assert other.take_over(recorded, events)
    assert not other.take_over(recorded, events)
    assert other.events(recorded) == events
    assert other.sessions()[0] == archive.sessions()[0]
    with pytest.raises(BadInputError, match="different session"):
        other.take_over(recorded, events[:3] + events[4:])
    with pytest.raises(BadInputError):
        other.take_over("x", ())
    archive.append(recorded, Note(text="re-cut from the same sheet"))
    assert other.take_over(recorded, archive.events(recorded))
    assert not other.take_over(recorded, events)
    assert other.events(recorded) == archive.events(recorded)
    other.close()


def test_a_session_taken_over_by_several_at_once_is_there_once(
    archive: Archive, recorded: str, tmp_path: Path, clock: Clock
) -> None:
    """Each looked for it before the others had written: SQLite's own word for that came out as one about the card."""
    events, at_once = archive.events(recorded), 4
    begun = Barrier(at_once)

    def take_over(folder: Path) -> bool:
        with closing(Archive.open(folder / "archive.sqlite", clock)) as other:
            begun.wait()
            return other.take_over(recorded, events)

    with ThreadPoolExecutor(at_once) as pool:
        for number in range(8):
            folder = tmp_path / str(number)
            Archive.open(folder / "archive.sqlite", clock).close()
            assert sorted(pool.map(take_over, [folder] * at_once)) == [False, False, False, True]


def test_a_session_that_is_not_closed_is_not_taken_over(
    archive: Archive, recorded: str, tmp_path: Path, clock: Clock
) -> None:
    """The other bench would go on with it at its next start."""
    other = Archive.open(tmp_path / "other" / "archive.sqlite", clock)
    with pytest.raises(BadInputError, match="close it on its own bench"):
        other.take_over(recorded, archive.events(recorded)[:5])
    assert other.sessions() == ()
    assert other.unfinished() is None
    other.close()


def test_sessions_are_found_by_the_beginning_of_their_name(archive: Archive, opened: Opened, recorded: str) -> None:
    second = archive.begin(opened)
    assert archive.session_ids(limit=5) == (second, recorded)
    assert archive.session_ids(second[:-2], limit=5) == (second,)
    assert archive.session_ids("20260301-14", limit=1) == (second,)
    assert archive.session_ids("%", limit=5) == ()


def test_how_the_last_coupon_was_opened_is_known_by_machine_and_else_by_bench(archive: Archive, opened: Opened) -> None:
    assert archive.last_opened("router") is None
    first, last = replace(opened, machine="router", place="A1"), replace(opened, machine="knife", place="B1")
    archive.begin(replace(first, place="C1"))
    archive.begin(first)
    archive.begin(last)
    assert archive.last_opened("router") == first
    assert archive.last_opened("a machine described since") == last


def test_sessions_of_one_machine_and_of_one_grid(archive: Archive, opened: Opened) -> None:
    other = archive.begin(replace(opened, machine="knife"))
    ids = [archive.begin(replace(opened, grid="bed 2026-03", place=place)) for place in ("A1", "B1", "B2")]
    assert [summary.id for summary in archive.sessions(machine="knife")] == [other]
    assert [summary.id for summary in archive.sessions(machine=opened.machine, limit=2)] == ids[:0:-1]
    grid = archive.grid("bed 2026-03")
    assert [summary.id for summary in grid] == ids
    assert [summary.place for summary in grid] == ["A1", "B1", "B2"]
    assert archive.grid("") == ()

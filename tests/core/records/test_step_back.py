"""Back to an earlier version of the program: every session is there, the later file is kept, the power may go."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.records import events_json, migrations, step_back
from core.records.archive import Archive
from core.records.events import Note, Unrecognised

NEWEST = Path(__file__).parents[2] / "old_archives" / f"schema_{migrations.SCHEMA_VERSION}.sqlite"
# What a later version might do within the rule that migrations.py states.
LATER = """
ALTER TABLE session ADD COLUMN warmth REAL;
ALTER TABLE event ADD COLUMN place TEXT;
ALTER TABLE instrument ADD COLUMN colour TEXT NOT NULL DEFAULT 'grey';
ALTER TABLE machine_event ADD COLUMN place TEXT;
CREATE TABLE operator (ordinal INTEGER PRIMARY KEY, name TEXT);
CREATE INDEX session_by_warmth ON session (warmth);
"""


def now() -> datetime:
    return datetime(2026, 3, 2, tzinfo=UTC)


def told(archive: Archive) -> dict[str, list[object]]:
    return {one.id: [events_json.event_to_json(e) for e in archive.events(one.id)] for one in archive.sessions()}


def made_later(path: Path) -> None:
    """Migrated by a later version, which has measured on: with an event that this one does not know."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executescript(LATER)
        connection.execute(f"PRAGMA user_version = {migrations.SCHEMA_VERSION + 1}")
        session_id, last = connection.execute(
            "SELECT session_id, max(sequence) FROM event JOIN session ON session.id = session_id WHERE NOT closed"
        ).fetchone()
        connection.execute(
            "INSERT INTO event (session_id, sequence, time_utc, kind, version, payload, place) "
            "VALUES (?, ?, NULL, 'humidity-read', 1, '{\"percent\": 48}', 'A1')",
            (session_id, last + 1),
        )


@pytest.fixture
def later(tmp_path: Path) -> Path:
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(NEWEST, path)
    made_later(path)
    return path


def before_update(tmp_path: Path) -> dict[str, list[object]]:
    copy = tmp_path / "before.sqlite"
    shutil.copyfile(NEWEST, copy)
    with closing(Archive.open(copy, now)) as archive:
        return told(archive)


def test_every_session_is_there_and_goes_on(later: Path, tmp_path: Path) -> None:
    before = before_update(tmp_path)
    with closing(Archive.open(later, now, came_back=True)) as archive:
        assert "2 sessions were taken over" in str(archive.notice)
        after = told(archive)
        assert after.keys() == before.keys()
        for session_id, events in before.items():
            assert after[session_id][: len(events)] == events
        unfinished = archive.unfinished()
        assert unfinished is not None
        newest = archive.events(unfinished)[-1].payload
        assert newest == Unrecognised(kind="humidity-read", version=1, text='{"percent": 48}')
        archive.append(unfinished, Note(text="measured on by the earlier version"))
        assert archive.machines()
        assert archive.machine_events(archive.sessions()[0].machine)
        assert archive.instrument_book(simulated=True, on_bench=True).used
    with closing(Archive.open(later, now, came_back=True)) as archive:
        assert not archive.notice


def test_the_later_file_is_kept_whole(later: Path) -> None:
    Archive.open(later, now, came_back=True).close()
    (aside,) = later.parent.glob(f"archive.sqlite.schema-{migrations.SCHEMA_VERSION + 1}-20260302-*")
    with closing(sqlite3.connect(aside)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("SELECT count(*) FROM event WHERE kind = 'humidity-read'").fetchone()[0] == 1
    assert {path.name for path in later.parent.glob("archive*")} == {"archive.sqlite", aside.name}


def test_what_a_killed_program_left_in_the_log_counts(later: Path, tmp_path: Path) -> None:
    """Stopped by the watchdog right after its migration, with everything new still in the write-ahead log."""
    killed = tmp_path / "killed" / "archive.sqlite"
    killed.parent.mkdir()
    with closing(sqlite3.connect(later, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("UPDATE event SET payload = '{\"percent\": 51}' WHERE kind = 'humidity-read'")
        for suffix in ("", "-wal"):
            shutil.copyfile(f"{later}{suffix}", f"{killed}{suffix}")
    with closing(Archive.open(killed, now, came_back=True)) as archive:
        session_id = archive.unfinished()
        assert session_id is not None
        assert archive.events(session_id)[-1].payload == Unrecognised(
            kind="humidity-read", version=1, text='{"percent": 51}'
        )


def test_forward_again_nothing_is_missing(later: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with closing(Archive.open(later, now, came_back=True)) as archive:
        back = told(archive)
    monkeypatch.setattr(migrations, "MIGRATIONS", (*migrations.MIGRATIONS, LATER))
    monkeypatch.setattr(migrations, "SCHEMA_VERSION", migrations.SCHEMA_VERSION + 1)
    with closing(Archive.open(later, now)) as archive:
        assert told(archive) == back


def test_a_session_that_only_the_later_version_understands_stays_in_its_file(later: Path) -> None:
    with closing(sqlite3.connect(later, isolation_level=None)) as connection:
        connection.execute("UPDATE event SET version = 2 WHERE kind = 'opened' AND session_id = "
                           "(SELECT id FROM session WHERE closed)")  # fmt: skip
    with closing(Archive.open(later, now, came_back=True)) as archive:
        assert "1 session was taken over" in str(archive.notice)
        assert "1 session is only in it" in str(archive.notice)
        assert "lost" not in str(archive.notice)
        assert len(archive.sessions()) == 1


def test_sessions_taken_over_from_elsewhere_stay_that(later: Path) -> None:
    with closing(sqlite3.connect(later, isolation_level=None)) as connection:
        connection.execute("UPDATE session SET taken_over = 1 WHERE closed")
    Archive.open(later, now, came_back=True).close()
    with closing(sqlite3.connect(later)) as connection:
        assert connection.execute("SELECT closed FROM session WHERE taken_over").fetchall() == [(1,)]


class PowerCutError(Exception):
    """Nothing after this reaches the disk."""


@pytest.mark.parametrize("place", ["os.link", "sync_path", "recovery.copy_records"])
def test_the_power_may_go_on_the_way(later: Path, monkeypatch: pytest.MonkeyPatch, place: str) -> None:
    with closing(sqlite3.connect(later, isolation_level=None)) as connection:
        connection.execute("UPDATE session SET taken_over = 1 WHERE closed")

    def cut(*_args: object) -> None:
        raise PowerCutError

    owner, _, name = place.rpartition(".")
    monkeypatch.setattr(getattr(step_back, owner) if owner else step_back, name, cut)
    with pytest.raises(PowerCutError):
        Archive.open(later, now, came_back=True)
    monkeypatch.undo()
    with closing(Archive.open(later, now, came_back=True)) as archive:
        assert len(archive.sessions()) == 2
    assert not [*later.parent.glob("*.earlier-*")]


def test_a_damaged_archive_is_recovered_as_ever(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    path.write_bytes(b"no database at all" * 400)
    with closing(Archive.open(path, now, came_back=True)) as archive:
        assert "damaged" in str(archive.notice)

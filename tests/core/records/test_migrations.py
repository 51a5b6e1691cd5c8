"""Archives of every earlier schema are opened again: nothing in them may ever be lost or change its meaning."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.errors import StorageError
from core.records import archive as archive_module, archive_file, events_json, migrations, value_json
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.checksums import CHECKSUMS_FILE, checksums_text
from core.records.events import Note
from core.records.import_folder import import_folder
from core.records.session_json import session_text
from core.records.session_tables import SessionSummary
from core.records.whole_writing import write_folder

OLD = sorted((Path(__file__).parents[2] / "old_archives").glob("schema_*.sqlite"))


def now() -> datetime:
    return datetime(2026, 3, 2, tzinfo=UTC)


def schema_of(path: Path) -> list[str]:
    """Tables with their columns, and whatever else is made by a sentence of SQL: what the file is, however it came to
    be so."""
    connection = sqlite3.connect(path)
    names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").fetchall()
    lines = []
    for (name,) in names:
        for _, column, kind, not_null, default, key in connection.execute(f"PRAGMA table_info({name})"):
            lines.append(f"{name}.{column} {kind} {not_null} {default} {key}")
    others = "SELECT type, name, tbl_name, sql FROM sqlite_schema WHERE type != 'table' ORDER BY type, name"
    lines += [f"{kind} {name} on {table}: {made}" for kind, name, table, made in connection.execute(others)]
    connection.close()
    return lines


def keeps(found: object, written: object) -> bool:
    """Whether everything once written is still there with its value; later software may have added fields."""
    if isinstance(written, dict) and isinstance(found, dict):
        return all(name in found and keeps(found[name], value) for name, value in written.items())
    if isinstance(written, list) and isinstance(found, list):
        return len(found) == len(written) and all(map(keeps, found, written))
    return found == written


def check_contents(archive: Archive, expected: dict[str, dict[str, list[object]]]) -> None:
    found = {
        summary.id: [events_json.event_to_json(event) for event in archive.events(summary.id)]
        for summary in archive.sessions()
    }
    assert found.keys() == expected["sessions"].keys()
    assert keeps(found, expected["sessions"])
    assert [summary.verdict for summary in archive.sessions()] == [None, "go"]
    closed = [event["payload"] for event in expected["sessions"][archive.sessions()[1].id] if event["kind"] == "closed"]
    assert [summary.software for summary in archive.sessions()] == ["", closed[-1]["software"]]
    machine = archive.sessions()[0].machine
    entries = [value_json.to_json(entry) for entry in archive.machine_events(machine)]
    assert keeps([entry["payload"] for entry in entries], [entry["payload"] for entry in expected["machine_events"]])
    (profile,) = archive.machines()
    assert profile == value_json.from_json(type(profile), expected["machines"][0])


def test_there_is_a_reference_of_every_earlier_schema() -> None:
    assert sorted(int(path.stem.split("_")[1]) for path in OLD) == list(range(1, migrations.SCHEMA_VERSION + 1))


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_an_old_archive_opens_whole_and_goes_on(old: Path, tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(old, path)
    expected = json.loads(old.with_suffix(".json").read_text(encoding="utf-8"))
    for _ in range(2):
        archive = Archive.open(path, now)
        check_contents(archive, expected)
        assert not archive.notice
        archive.close()
    archive = Archive.open(path, now)
    session_id = archive.unfinished()
    assert session_id is not None
    archive.append(session_id, Note(text="later"))
    archive.close()
    fresh = tmp_path / "fresh.sqlite"
    Archive.open(fresh, now).close()
    assert schema_of(path) == schema_of(fresh)


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_an_old_archive_on_a_read_only_card_is_read_as_it_stands(
    old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(old, path)
    before = path.read_bytes()
    monkeypatch.setattr(archive_module, "refuses_writing", lambda _: True)
    archive = Archive.open(path, now)
    check_contents(archive, json.loads(old.with_suffix(".json").read_text(encoding="utf-8")))
    archive.close()
    assert path.read_bytes() == before
    assert [part.name for part in tmp_path.iterdir()] == ["archive.sqlite"]


def test_it_is_read_as_well_where_memory_is_not_ours_to_write_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, memory = tmp_path / "archive.sqlite", tmp_path / "memory"
    shutil.copyfile(OLD[0], path)
    memory.mkdir()
    before = memory.stat().st_mtime_ns
    monkeypatch.setattr(archive_file, "_MEMORY", memory)
    monkeypatch.setattr(archive_module, "refuses_writing", lambda _: True)
    # Whoever runs the tests as root may write anywhere.
    monkeypatch.setattr(os, "access", lambda place, mode: Path(place) != memory)
    with closing(Archive.open(path, now)) as archive:
        check_contents(archive, json.loads(OLD[0].with_suffix(".json").read_text(encoding="utf-8")))
    assert memory.stat().st_mtime_ns == before


def test_an_archive_of_newer_software_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    Archive.open(path, now).close()
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {migrations.SCHEMA_VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(StorageError, match="newer software"):
        Archive.open(path, now)
    assert path.read_bytes() == before


def test_a_migration_that_fails_midway_leaves_the_old_schema(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "archive.sqlite"
    Archive.open(path, now).close()
    before = schema_of(path)
    broken = "CREATE TABLE half (a TEXT);\nCREATE TABLE session (again TEXT)"
    monkeypatch.setattr(migrations, "MIGRATIONS", (*migrations.MIGRATIONS, broken))
    monkeypatch.setattr(migrations, "SCHEMA_VERSION", migrations.SCHEMA_VERSION + 1)
    with pytest.raises(StorageError, match="already exists"):
        Archive.open(path, now)
    assert schema_of(path) == before


def closed_of(old: Path, tmp_path: Path) -> SessionSummary:
    """The finished coupon of an old archive, as it is listed now."""
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(old, path)
    with closing(Archive.open(path, now)) as archive:
        _still_open, closed = archive.sessions()
    return closed


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_sizes_of_sessions_closed_before_they_were_stored_are_unknown_not_zero(old: Path, tmp_path: Path) -> None:
    closed = closed_of(old, tmp_path)
    known = int(old.stem.split("_")[1]) >= 3
    sizes = (closed.scale_x, closed.scale_x_u95, closed.scale_y, closed.scale_y_u95)
    assert sizes == ((-0.0004, 0.0003, -0.0006, 0.0004) if known else (None,) * 4)


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_whether_a_word_was_settled_is_unknown_where_it_was_not_kept(old: Path, tmp_path: Path) -> None:
    closed = closed_of(old, tmp_path)
    known = int(old.stem.split("_")[1]) >= 11
    assert (closed.settled, str(closed.word)) == ((False, "GO, not settled") if known else (None, "GO"))


def stored_events(path: Path, session_id: str) -> list[tuple[object, ...]]:
    connection = sqlite3.connect(path)
    rows = connection.execute(
        "SELECT sequence, time_utc, kind, version, payload, chain FROM event WHERE session_id = ? ORDER BY sequence",
        (session_id,),
    ).fetchall()
    connection.close()
    return rows


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_a_coupon_of_every_earlier_schema_is_downloaded_and_taken_over_as_it_was_written(
    old: Path, tmp_path: Path
) -> None:
    path, other = tmp_path / "archive.sqlite", tmp_path / "other.sqlite"
    shutil.copyfile(old, path)
    archive = Archive.open(path, now)
    _still_open, closed = archive.sessions()
    files = {"session.json": session_text(archived_record(archive, closed.id)).encode()}
    write_folder(files | {CHECKSUMS_FILE: checksums_text(files).encode()}, tmp_path / "download")
    archive.close()
    elsewhere = Archive.open(other, now)
    import_folder(tmp_path / "download", elsewhere)
    elsewhere.close()
    assert stored_events(other, closed.id) == stored_events(path, closed.id)


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_checks_of_every_earlier_schema_are_found_with_their_session(old: Path, tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(old, path)
    expected = json.loads(old.with_suffix(".json").read_text(encoding="utf-8"))
    archive = Archive.open(path, now)
    _still_open, closed = archive.sessions()
    book = archive.instrument_book(simulated=True, on_bench=True)
    archive.close()
    (history,) = book.checks
    assert history.last is not None
    assert (history.instrument, history.last.session, history.last.sessions_ago) == ("caliper", closed.id, 1)
    written = next(event for event in expected["sessions"][closed.id] if event["kind"] == "gauge-checked")
    assert keeps(value_json.to_json(history.last.check), written["payload"])
    assert history.last.time_utc == value_json.parse_time(written["time_utc"])
    assert history.before is None
    assert [value_json.to_json(used) for used in book.used] == expected.get("instruments", [])


def test_a_check_that_cannot_be_read_holds_no_archive_up(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    shutil.copyfile(OLD[0], path)
    connection = sqlite3.connect(path)
    connection.execute("UPDATE event SET payload = '{\"quantity\"' WHERE kind = 'gauge-checked'")
    connection.commit()
    connection.close()
    archive = Archive.open(path, now)
    assert archive.instrument_book(simulated=True, on_bench=True).checks == ()
    archive.close()

"""What was acknowledged and is gone is said, also where the end of the log is missing as if a kill had cut it off."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from core.machine.machine_log import MachineEvent, MachineEventKind
from core.machine.profile import MachineProfile
from core.records.acknowledged import file_beside
from core.records.archive import Archive
from core.records.events import Note, Opened
from core.records.saved_bench import restore_bench, save_bench

SECTOR = 512


def now() -> None:
    return None


def killed(path: Path, opened: Opened) -> Path:
    """The write-ahead log of a bench that was killed when all of it was acknowledged: its files as they then lie."""
    working = path.parent / "working" / path.name
    with closing(Archive.open(working, now)) as archive:
        archive.save_machine(MachineProfile(name="template router", span_mm=640.0))
        archive.append_machine_event("template router", MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))
        session = archive.begin(opened)
        for number in range(5):
            archive.append(session, Note(text=f"sheet {number}"))
        for file in working.parent.iterdir():
            shutil.copyfile(file, path.parent / file.name)
    return path.with_name(f"{path.name}-wal")


def notice(path: Path) -> str:
    with closing(Archive.open(path, now)) as archive:
        return str(archive.notice)


def cut(log: Path, sectors: int) -> None:
    with log.open("r+b") as file:
        file.truncate(log.stat().st_size - sectors * SECTOR)


def zeroed(log: Path, sectors: int) -> None:
    with log.open("r+b") as file:
        file.seek(-sectors * SECTOR, os.SEEK_END)
        file.write(bytes(sectors * SECTOR))


@pytest.mark.parametrize("lose", [cut, zeroed])
@pytest.mark.parametrize("sectors", [1, 8, 40, 100])
def test_a_log_that_lost_its_end_does_not_pass_for_a_killed_one(
    tmp_path: Path, opened: Opened, lose: Callable[[Path, int], None], sectors: int
) -> None:
    log = killed(tmp_path / "archive.sqlite", opened)
    lose(log, sectors)
    assert "6 events were stored, and the card has kept" in notice(tmp_path / "archive.sqlite")


@pytest.mark.parametrize("suffixes", [("-wal",), ("", "-wal", "-shm")])
def test_a_log_and_an_archive_that_are_gone_as_a_whole_are_missed(
    tmp_path: Path, opened: Opened, suffixes: tuple[str, ...]
) -> None:
    killed(tmp_path / "archive.sqlite", opened)
    for suffix in suffixes:
        (tmp_path / f"archive.sqlite{suffix}").unlink(missing_ok=True)
    assert "6 events were stored, and the card has kept 0" in notice(tmp_path / "archive.sqlite")


def test_the_newest_line_of_a_machine_s_log_is_missed(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    with closing(Archive.open(path, now)) as archive:
        archive.save_machine(MachineProfile(name="template router", span_mm=640.0))
    kept = path.read_bytes()
    with closing(Archive.open(path, now)) as archive:
        archive.append_machine_event("template router", MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))
    path.write_bytes(kept)
    assert notice(path) == "What was stored last is not on the card any more (template router)."


@pytest.mark.parametrize(
    "damage", ["UPDATE log_head SET entries = x'ff'", "UPDATE log_head SET chain = x'ff'", "DELETE FROM log_head"]
)
def test_where_only_the_count_is_damaged_the_bench_opens_and_misses_nothing(tmp_path: Path, damage: str) -> None:
    path = tmp_path / "archive.sqlite"
    with closing(Archive.open(path, now)) as archive:
        archive.append_machine_event("template router", MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(damage)
    assert "not on the card any more" not in notice(path)


def test_a_kill_a_stop_and_a_second_writer_are_no_loss(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "archive.sqlite"
    killed(path, opened)
    with closing(Archive.open(path, now)) as bench:
        assert not bench.notice
        with closing(Archive.open(path, now, may_set_aside=False)) as command:
            assert not command.notice
            command.save_machine(MachineProfile(name="knife plotter", span_mm=500.0))
        session = bench.unfinished()
        assert session is not None
        bench.append(session, Note(text="birch"))
    assert not notice(path)


def test_once_something_is_stored_the_loss_was_said(tmp_path: Path, opened: Opened) -> None:
    cut(killed(tmp_path / "archive.sqlite", opened), 1)
    with closing(Archive.open(tmp_path / "archive.sqlite", now)) as archive:
        assert archive.notice
        session = archive.unfinished()
        assert session is not None
        archive.append(session, Note(text="birch"))
    assert not notice(tmp_path / "archive.sqlite")


def test_an_older_bench_that_was_taken_back_is_no_loss(tmp_path: Path, opened: Opened) -> None:
    killed(tmp_path / "archive.sqlite", opened)
    saved = save_bench(tmp_path, tmp_path / "stick", None)
    with closing(Archive.open(tmp_path / "archive.sqlite", now)) as archive:
        archive.append(archive.begin(opened), Note(text="later"))
    restore_bench(saved, tmp_path, None)
    assert not notice(tmp_path / "archive.sqlite")


@pytest.mark.parametrize(
    "put",
    [
        os.mkfifo,
        Path.mkdir,
        lambda path: path.write_bytes(b"\xff" * 9000),
        lambda path: path.symlink_to("/dev/zero"),
        lambda path: path.write_text("{}"),
    ],
)
def test_without_it_the_bench_stores_as_before(tmp_path: Path, opened: Opened, put: Callable[[Path], object]) -> None:
    path = tmp_path / "archive.sqlite"
    put(file_beside(path))
    with closing(Archive.open(path, now)) as archive:
        archive.append(archive.begin(opened), Note(text="birch"))
        archive.settle()
        assert not archive.notice
    assert not notice(path)

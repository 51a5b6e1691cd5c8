"""A write-ahead log that a stopped bench left: SQLite drops what stands behind a damaged place without a word."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from core.errors import DamagedArchiveError
from core.records import write_ahead_log
from core.records.archive import Archive
from core.records.events import Note
from core.records.write_ahead_log import checksum, is_damaged, log_of
from tests.endurance.bit_flips import fill, now, told

FRAME = 24 + 4096
HEADER = 32


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """File and log as a kill leaves them, and what the bench had read of them."""
    folder = tmp_path_factory.mktemp("killed")
    path = folder / "left" / "archive.sqlite"
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        fill(archive, 2)
        path.parent.mkdir()
        for suffix in ("", "-wal"):
            shutil.copyfile(folder / f"archive.sqlite{suffix}", path.with_name(path.name + suffix))
        return path, told(archive)


@pytest.fixture
def left(killed: tuple[Path, dict[str, str]], tmp_path: Path) -> Path:
    for file in killed[0].parent.iterdir():
        shutil.copyfile(file, tmp_path / file.name)
    return tmp_path / killed[0].name


def change(log: Path, at: int, by: Callable[[bytes], bytes], size: int = 1) -> None:
    content = bytearray(log.read_bytes())
    content[at : at + size] = by(bytes(content[at : at + size]))
    log.write_bytes(content)


def reopened(path: Path, *, may_set_aside: bool = True) -> tuple[dict[str, str], str]:
    with closing(Archive.open(path, now, may_set_aside=may_set_aside)) as archive:
        return told(archive), str(archive.notice)


def frames(log: Path) -> int:
    return (log.stat().st_size - HEADER) // FRAME


@pytest.mark.parametrize("order", ["<", ">"])
def test_the_checksum_is_that_of_the_file_format(order: str) -> None:
    """The algorithm as https://sqlite.org/fileformat2.html#checksum_algorithm states it, word by word."""
    content = random.Random(3).randbytes(4104)
    one, two = 0x12345678, 0xFEDCBA98
    words = struct.unpack(f"{order}{len(content) // 4}I", content)
    for first, second in zip(words[::2], words[1::2], strict=True):
        one = (one + first + two) % 2**32
        two = (two + second + one) % 2**32
    assert checksum(content, (0x12345678, 0xFEDCBA98), order) == (one, two)


def test_a_log_as_it_was_left_is_not_called_damaged(left: Path, killed: tuple[Path, dict[str, str]]) -> None:
    assert frames(log_of(left)) > 100
    assert reopened(left) == (killed[1], "")


# In the header, and in a frame: page, commit, salt, checksum, content; of the first, one in the middle, and the last.
PLACES = [3, 9, 17, 27] + [HEADER + at for at in (2, 5, 9, 20, 24, 2000)]


@pytest.mark.parametrize("frame", [0, 57, -1])
@pytest.mark.parametrize("place", PLACES)
def test_a_flipped_bit_is_mended_and_said(
    left: Path, killed: tuple[Path, dict[str, str]], place: int, frame: int
) -> None:
    at = place if place < HEADER else place + frame % frames(log_of(left)) * FRAME
    change(log_of(left), at, lambda byte: bytes([byte[0] ^ 4]))
    found, notice = reopened(left)
    assert found == killed[1]
    assert "nothing is lost" in notice
    assert len(list(left.parent.glob("archive.sqlite.damaged-*"))) == 2, "file and log as they were"
    assert reopened(left) == (killed[1], "")


def test_behind_a_lost_page_everything_is_read(left: Path, killed: tuple[Path, dict[str, str]]) -> None:
    """SQLite alone reads less than half of it."""
    change(log_of(left), HEADER + 60 * FRAME + 24, lambda page: random.Random(1).randbytes(len(page)), 4096)
    alone = left.with_name("alone.sqlite")
    for suffix in ("", "-wal"):
        shutil.copyfile(left.with_name(left.name + suffix), alone.with_name(alone.name + suffix))
    with closing(sqlite3.connect(alone)) as connection:
        (by_sqlite,) = connection.execute("SELECT count(*) FROM event").fetchone()
    found, notice = reopened(left)
    assert "cannot be read" in notice
    numbered = {name for name in killed[1] if name[0].isdigit()}
    assert by_sqlite < len(numbered) / 2
    assert {name: found.get(name) for name in numbered} == {name: killed[1][name] for name in numbered}


@pytest.mark.parametrize("lost", [(0, 512), (HEADER + 7 * FRAME, 24), (HEADER - 8, 2 * FRAME)])
def test_a_lost_sector_is_said(left: Path, lost: tuple[int, int]) -> None:
    change(log_of(left), lost[0], lambda part: random.Random(2).randbytes(len(part)), lost[1])
    assert "cannot be read" in reopened(left)[1]


def test_a_log_that_ends_in_a_transaction_is_not_damaged(left: Path) -> None:
    """What was never acknowledged: pages of a transaction without its end, the last of them torn."""
    for size in (HEADER, HEADER + 10, HEADER + FRAME + 100, HEADER + 61 * FRAME - 1):
        os.truncate(log_of(left), size)
        log_of(left).touch()
        assert not is_damaged(left)


def test_what_a_kill_leaves_behind_a_shorter_transaction_is_not_damage(left: Path) -> None:
    """After a kill in the middle of a large one, the next is written over its first pages with the same salts."""
    large = left.with_name("large.sqlite")
    for suffix in ("", "-wal"):
        shutil.copyfile(left.with_name(left.name + suffix), large.with_name(large.name + suffix))
    whole = frames(log_of(large))
    with closing(sqlite3.connect(large, isolation_level=None)) as connection:
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("CREATE TABLE large AS SELECT randomblob(200000) AS content")
        content = log_of(large).read_bytes()
    # All but the frame that ends it, behind what was there, and over it a small transaction of this version's own.
    log_of(left).write_bytes(content[:-FRAME])
    kept = left.with_name("kept.sqlite")
    with closing(Archive.open(left, now)) as archive:
        session = archive.unfinished()
        assert session is not None
        archive.append(session, Note(text="after the kill"))
        for suffix in ("", "-wal"):
            shutil.copyfile(left.with_name(left.name + suffix), kept.with_name(kept.name + suffix))
    assert frames(log_of(kept)) > whole + 40
    assert not is_damaged(kept)
    found, notice = reopened(kept)
    assert "after the kill" in str(found)
    assert not notice


def test_beside_a_bench_nothing_is_mended_and_nothing_lost(left: Path, killed: tuple[Path, dict[str, str]]) -> None:
    """A command that opened it would have made SQLite's shorter reading the only one."""
    change(log_of(left), HEADER + 57 * FRAME + 100, lambda byte: bytes([byte[0] ^ 1]))
    before = {file.name: file.read_bytes() for file in left.parent.iterdir()}
    with pytest.raises(DamagedArchiveError, match="start the bench"):
        reopened(left, may_set_aside=False)
    assert {file.name: file.read_bytes() for file in left.parent.iterdir()} == before
    assert reopened(left)[0] == killed[1]


@pytest.mark.parametrize("step", ["replace", "unlink"])
def test_a_mending_that_is_killed_begins_again(
    left: Path, killed: tuple[Path, dict[str, str]], step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Killed(BaseException):
        """Nothing catches it."""

    def dying(*_args: object, **_kwargs: object) -> None:
        raise Killed

    change(log_of(left), HEADER + 57 * FRAME + 100, lambda byte: bytes([byte[0] ^ 1]))
    with monkeypatch.context() as patch:
        patch.setattr(write_ahead_log.Path, step, dying)
        with pytest.raises(Killed):
            write_ahead_log.mend(left, lambda: left.with_name("aside"))
    found, notice = reopened(left)
    assert found == killed[1]
    assert "nothing is lost" in notice


def test_on_a_card_that_refuses_writing_it_is_read_and_said(
    left: Path, killed: tuple[Path, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    change(log_of(left), HEADER + 57 * FRAME + 100, lambda byte: bytes([byte[0] ^ 1]))
    monkeypatch.setattr("core.records.archive.refuses_writing", lambda _path: True)
    found, notice = reopened(left)
    assert found == killed[1]
    assert "A bit of what was stored last was wrong" in notice

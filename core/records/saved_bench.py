"""The whole bench on a stick and back: records, machines, instruments, hands and settings. Cards die.

Input and output: a folder with a copy of the archive, the files beside it and SHA256SUMS. Saving may be done while the
bench measures: SQLite's own backup makes the copy. Taking back needs the bench at rest; what was there before is kept
beside it, never overwritten. A stop at any moment leaves either what was there or what was taken back.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

from core.errors import BadInputError
from core.records import migrations
from core.records.archive_file import beside, storage_errors
from core.records.checksums import CHECKSUMS_FILE, verify_folder
from core.records.session_id import new_session_id
from core.records.whole_writing import sync_folder, writing_errors
from core.regular_file import read_regular_file
from core.said import Name, said

ARCHIVE = "archive.sqlite"
# What is kept beside the archive, by whichever part; one that is not there is not saved.
BESIDE = ("settings.json", "instruments.json", "accuracy.json")
_MOST_BESIDE_BYTES = 1024 * 1024
_PAGES_AT_ONCE = 256


def save_bench(data: Path, to: Path, now: datetime | None) -> Path:
    """Put the bench of this data folder into a new folder in `to`, read back; the folder. Raises StorageError and kin,
    BadInputError where there is nothing to save."""
    if not (data / ARCHIVE).exists():
        raise BadInputError(
            said("{folder}: there is no archive yet, so there is nothing to save", folder=Name(str(data)))
        )
    target = to / f"cornerwise-bench-{new_session_id(now)}"
    partial = target.with_name(f"{target.name}-partial-{secrets.token_hex(4)}")
    with writing_errors(target):
        partial.mkdir(parents=True)
        try:
            _copy_archive(data / ARCHIVE, partial / ARCHIVE)
            for name in BESIDE:
                if (data / name).exists():
                    (partial / name).write_bytes(read_regular_file(data / name, _MOST_BESIDE_BYTES))
            lines = [f"{_digest(file)}  {file.name}\n" for file in sorted(partial.iterdir())]
            (partial / CHECKSUMS_FILE).write_text("".join(lines), encoding="ascii")
            for file in partial.iterdir():
                _sync(file)
            verify_folder(partial)
            sync_folder(partial)
            partial.rename(target)
            sync_folder(to)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
    return target


def restore_bench(folder: Path, data: Path, now: datetime | None) -> tuple[Path, ...]:
    """Take a saved bench back into this data folder, whose bench is at rest; what was there before, under other names.

    Raises BadInputError where the folder is not a whole saved bench, StorageError and kin where it cannot be written.
    """
    verify_folder(folder)
    fresh = data / f"{ARCHIVE}.restoring"
    kept = []
    with writing_errors(data / ARCHIVE):
        data.mkdir(parents=True, exist_ok=True)
        for remains in data.glob(f"{fresh.name}*"):
            remains.unlink()
        shutil.copyfile(folder / ARCHIVE, fresh)
        _check_archive(fresh)
        _sync(fresh)
        for name in BESIDE:
            if (folder / name).exists():
                content = read_regular_file(folder / name, _MOST_BESIDE_BYTES)
                kept += _keep(data / name, now)
                (data / name).write_bytes(content)
                _sync(data / name)
        kept += _keep(data / ARCHIVE, now)
        fresh.rename(data / ARCHIVE)
        sync_folder(data)
    return tuple(kept)


def _copy_archive(source: Path, target: Path) -> None:
    """A copy of this very moment, in one file, beside whoever writes on."""
    with (
        storage_errors(source),
        closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as reading,
        closing(sqlite3.connect(target, isolation_level=None)) as writing,
    ):
        reading.backup(writing, pages=_PAGES_AT_ONCE)
        writing.execute("PRAGMA journal_mode = DELETE")
        if writing.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
            raise sqlite3.DatabaseError("quick_check: the copy is damaged")


def _check_archive(path: Path) -> None:
    """Whether it is an archive that this software opens."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as connection:
            ours = connection.execute("PRAGMA application_id").fetchone()[0] == migrations.APPLICATION_ID
            whole = connection.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok"
            known = 0 < migrations.schema_version(connection) <= migrations.SCHEMA_VERSION
    except sqlite3.DatabaseError:
        ours = whole = known = False
    if not (ours and whole and known):
        raise BadInputError(
            said("{file}: this is no whole archive that this version opens; nothing was changed", file=Name(path.name))
        )


def _keep(path: Path, now: datetime | None) -> list[Path]:
    """What stands under this name, under another one; the write-ahead log goes along."""
    if not path.exists():
        return []
    aside = beside(path, "before-restore", now)
    for suffix in ("-wal", "-shm"):
        part = path.with_name(path.name + suffix)
        if part.exists():
            part.rename(aside.with_name(aside.name + suffix))
    return [path.rename(aside)]


def _digest(file: Path) -> str:
    with file.open("rb") as reading:
        return hashlib.file_digest(reading, "sha256").hexdigest()


def _sync(file: Path) -> None:
    handle = os.open(file, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

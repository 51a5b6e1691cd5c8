"""The whole bench on a stick and back: records, machines, instruments, hands and settings. Cards die.

Input and output: a folder with a copy of the archive, the files beside it and SHA256SUMS. Saving may be done while the
bench measures: SQLite's own backup makes the copy. Taking back needs the bench at rest: a bench at work fetches what
is on the stick and takes it back at its next start. What was there before is kept beside it, never overwritten. A stop
at any moment leaves either what was there or what was taken back.
"""

import os
import shutil
import signal
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError, DiskFullError, StorageError
from core.progress import Told, in_part, nobody
from core.records import migrations
from core.records.acknowledged import forget
from core.records.archive_file import beside, connect_read_only, refuses_writing, storage_errors, without_room
from core.records.checksums import CHECKSUMS_FILE, MAX_VERIFIED_BYTES, unnamed_files, verify_folder
from core.records.session_id import is_session_id, new_session_id
from core.records.vouched_file import write_vouched
from core.records.whole_writing import sync_path, whole_folder, writing_errors
from core.regular_file import opened_regular_file, read_regular_file
from core.said import NOTHING, Name, Part, said

ARCHIVE = "archive.sqlite"
# What is kept beside the archive, by whichever part; one that is not there is not saved.
BESIDE = ("settings.json", "instruments.json", "accuracy.json")
_MOST_BESIDE_BYTES = 1024 * 1024
_PAGES_AT_ONCE = 256
# What SQLite shares between programs is no smaller, but where there was no room for it (https://sqlite.org/walformat.html).
_SHARED_BYTES = 32 * 1024
_BLOCK_BYTES = 1024 * 1024
_NAMED = "cornerwise-bench-"
# What was fetched from a stick and waits for the next start of the bench.
_FETCHED = "fetched-bench"


class SavedBench(Struct, frozen=True, kw_only=True):
    """A saved bench as it lies in a folder: when it was saved (None where the clock was not set), how many sessions."""

    folder: str
    saved_utc: datetime | None
    sessions: int


def save_bench(data: Path, to: Path, now: datetime | None, told: Told = nobody) -> Path:
    """Put the bench of this data folder into a new folder in `to`, read back; the folder. `told` hears how far it is.
    Raises StorageError and kin, BadInputError where there is nothing to save."""
    if not (data / ARCHIVE).exists():
        raise BadInputError(
            said("{folder}: there is no archive yet, so there is nothing to save", folder=Name(str(data)))
        )
    target = to / f"{_NAMED}{new_session_id(now)}"
    with whole_folder(target) as partial:
        _copy_archive(data / ARCHIVE, partial / ARCHIVE, in_part(told, 0, 3))
        for name in BESIDE:
            if (data / name).exists():
                (partial / name).write_bytes(read_regular_file(data / name, _MOST_BESIDE_BYTES))
        told(1, 3)
        lines = [f"{_digest(file)}  {file.name}\n" for file in sorted(partial.iterdir())]
        (partial / CHECKSUMS_FILE).write_text("".join(lines), encoding="ascii")
        for file in partial.iterdir():
            sync_path(file)
        told(2, 3)
        verify_folder(partial)
        sync_path(partial)
    return target


def restore_bench(folder: Path, data: Path, now: datetime | None, told: Told = nobody) -> tuple[Path, ...]:
    """Take a saved bench back into this data folder, whose bench is at rest; what was there before, under other names.
    `told` hears how far it is, until it can no longer be stopped: what ends it before leaves the bench as it was.

    Raises BadInputError where the folder is not a whole saved bench, StorageError and kin where it cannot be written.
    """
    verify_folder(folder)
    _refuse_unnamed(folder)
    fresh = data / f"{ARCHIVE}.restoring"
    kept = []
    with writing_errors(data / ARCHIVE):
        data.mkdir(parents=True, exist_ok=True)
        for remains in data.glob(f"{fresh.name}*"):
            remains.unlink()
        try:
            _copy_bounded(folder / ARCHIVE, fresh, in_part(told, 0, 2))
            _check_archive(fresh)
            told(2, 2)
        except BaseException:
            fresh.unlink(missing_ok=True)
            raise
        with _to_its_end():
            for name in BESIDE:
                if (folder / name).exists():
                    content = read_regular_file(folder / name, _MOST_BESIDE_BYTES)
                    kept += _keep(data / name, now)
                    write_vouched(data / name, content)
            forget(data / ARCHIVE)
            kept += _keep(data / ARCHIVE, now)
            fresh.rename(data / ARCHIVE)
            sync_path(data)
    return tuple(kept)


@contextmanager
def _to_its_end() -> Iterator[None]:
    """Ctrl-C waits until the block is done: settings of one bench beside the records of another are neither's."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def newest_saved(folder: Path) -> SavedBench:
    """The bench that was saved into this folder last; raises BadInputError where there is none that can be read."""
    names = [path.name for path in folder.glob(f"{_NAMED}*") if is_session_id(path.name.removeprefix(_NAMED))]
    if not names:
        raise BadInputError(said("no saved bench is on it: 'Save the whole bench' puts one there"))
    # Where the clock was not set a name has no time: such a one is the newest only where no other is.
    name = max(names, key=lambda name: (name.removeprefix(_NAMED)[0].isdigit(), name))
    try:
        _check_archive(folder / name / ARCHIVE)
        with closing(migrations.opened(folder / name / ARCHIVE, "mode=ro&immutable=1")) as connection:
            (sessions,) = connection.execute("SELECT count(*) FROM session").fetchone()
    except sqlite3.DatabaseError as exc:
        raise BadInputError(said("{name} is damaged", name=Name(name))) from exc
    saved_utc = None
    with suppress(ValueError):
        saved_utc = datetime.strptime(name.removeprefix(_NAMED)[:15], "%Y%m%d-%H%M%S").replace(tzinfo=UTC)
    return SavedBench(folder=name, saved_utc=saved_utc, sessions=sessions)


def fetch_bench(folder: Path, data: Path, told: Told = nobody) -> None:
    """Copy a saved bench beside the archive and verify the copy: at the next start it is taken back. `told` hears how
    far it is.

    Raises BadInputError where it is not whole, DiskFullError where there is no room for it twice.
    """
    fetched = data / _FETCHED
    partial = data / f"{_FETCHED}-partial"
    with writing_errors(fetched):
        for left in (partial, fetched):
            shutil.rmtree(left, ignore_errors=True)
        names = [name for name in (CHECKSUMS_FILE, ARCHIVE, *BESIDE) if (folder / name).exists()]
        needed = 2 * sum((folder / name).stat().st_size for name in names)
        free = shutil.disk_usage(data).free
        if free < needed:
            raise DiskFullError(
                said(
                    "the card of this bench has no room: {free} kB are free, {needed} kB are needed",
                    free=free // 1024,
                    needed=needed // 1024,
                )
            )
        partial.mkdir()
        try:
            for name in names:
                # All but some kilobytes of it is the archive.
                _copy_bounded(folder / name, partial / name, in_part(told, 0, 2) if name == ARCHIVE else nobody)
            told(1, 2)
            verify_folder(partial)
            _refuse_unnamed(partial)
            _check_archive(partial / ARCHIVE)
            partial.rename(fetched)
            sync_path(data)
        finally:
            shutil.rmtree(partial, ignore_errors=True)


def take_fetched_back(data: Path, now: datetime | None) -> Part:
    """At the start, before anything is opened: take back what was fetched. What to tell the person; nothing where
    nothing was fetched."""
    fetched = data / _FETCHED
    if not fetched.is_dir():
        return NOTHING
    try:
        restore_bench(fetched, data, now)
    except (BadInputError, StorageError) as error:
        shutil.rmtree(fetched, ignore_errors=True)
        return said("The saved bench was not taken back: {why}. What was here is untouched.", why=error.what)
    shutil.rmtree(fetched, ignore_errors=True)
    return said("The saved bench is back. What was here before is kept beside it.")


def _copy_bounded(source: Path, target: Path, told: Told) -> None:
    copied, size = 0, source.stat().st_size
    with opened_regular_file(source) as reading, target.open("wb") as writing:
        while block := reading.read(_BLOCK_BYTES):
            copied += len(block)
            if copied > MAX_VERIFIED_BYTES:
                raise BadInputError(said("{file} is too large to be read", file=Name(source.name)))
            writing.write(block)
            told(copied, size)
        writing.flush()
        os.fsync(writing.fileno())


def _refuse_unnamed(folder: Path) -> None:
    """What the checksums do not name is not taken back."""
    for name in (ARCHIVE, *BESIDE):
        if name in unnamed_files(folder) or (name == ARCHIVE and not (folder / name).exists()):
            raise BadInputError(
                said("{list} does not name {file}: nothing was changed", list=Name(CHECKSUMS_FILE), file=Name(name))
            )


def _opened_to_copy(path: Path) -> sqlite3.Connection:
    """Beside whoever writes on, or where nothing can be written any more: a card that dies is what is saved most."""
    shared = path.with_name(f"{path.name}-shm")
    at_work = shared.exists() and shared.stat().st_size >= _SHARED_BYTES
    if refuses_writing(path) or (without_room(path) and not at_work):
        return connect_read_only(path)
    return migrations.opened(path, "mode=ro")


def _copy_archive(source: Path, target: Path, told: Told) -> None:
    """A copy of this very moment, in one file, beside whoever writes on."""
    with (
        storage_errors(source),
        closing(_opened_to_copy(source)) as reading,
        _said_of(target),
        closing(sqlite3.connect(target, isolation_level=None)) as writing,
    ):
        reading.backup(writing, pages=_PAGES_AT_ONCE, progress=lambda _status, left, pages: told(pages - left, pages))
        writing.execute("PRAGMA journal_mode = DELETE")
        if writing.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
            raise sqlite3.DatabaseError("quick_check: the copy is damaged")


@contextmanager
def _said_of(target: Path) -> Iterator[None]:
    """Where the place of the copy has no room, it is that which is full, not the card that is copied from."""
    try:
        yield
    except sqlite3.OperationalError as exc:
        if not without_room(target):
            raise
        what = said("{target}: there is no room left; nothing was written", target=Name(str(target.parent.parent)))
        raise DiskFullError(what) from exc


def _check_archive(path: Path) -> None:
    """Whether it is an archive that this software opens."""
    with opened_regular_file(path):
        pass  # SQLite would wait for ever at a pipe
    try:
        with closing(migrations.opened(path, "mode=ro&immutable=1")) as connection:
            # A view under the name of a table, or a condition on a column, could take any time and memory: nothing is
            # asked of the tables before they are ours, word for word.
            whole = _has_our_tables(connection) and (
                connection.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok"
            )
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        whole = False
    if not whole:
        raise BadInputError(
            said("{file}: this is no whole archive that this version opens; nothing was changed", file=Name(path.name))
        )


def _has_our_tables(connection: sqlite3.Connection) -> bool:
    version = migrations.schema_version(connection)
    return (
        connection.execute("PRAGMA application_id").fetchone()[0] == migrations.APPLICATION_ID
        and 0 < version <= migrations.SCHEMA_VERSION
        and migrations.schema_text(connection) == migrations.schema_text_of(version)
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
    import hashlib  # as in digest.py

    with file.open("rb") as reading:
        return hashlib.file_digest(reading, "sha256").hexdigest()

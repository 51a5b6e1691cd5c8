"""The archive's file: opened for writing, or for reading where the card refuses; its errors in words of ours.

SQLite in WAL mode with synchronous=FULL: a commit is on the disk when it returns.
"""

import errno
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from core.errors import BadInputError, DamagedArchiveError, DiskFullError, ReadOnlyError, StorageError, reason_of
from core.records import migrations
from core.records.acknowledged import forget
from core.records.whole_writing import sync_path
from core.records.write_ahead_log import bring_together, is_damaged, log_of
from core.said import Name, Said, said

_DAMAGE_WORDS = "quick_check"
# Looking over 100 MB takes about a second; a larger file is looked over only once it was found damaged in use.
_CHECKED_BYTES = 64 * 1024 * 1024

_MEMORY = Path("/dev/shm")
_LEAST_FREE_BYTES = 64 * 1024
_OF_THE_CARD = (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)


def connect(path: Path) -> sqlite3.Connection:
    """Open for writing, create or migrate where needed, and look the file over; raises sqlite3's own errors."""
    connection = migrations.opened(path)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        migrations.migrate(connection)
        if migrations.schema_text(connection) != migrations.schema_text_of(migrations.SCHEMA_VERSION):
            raise sqlite3.DatabaseError(f"{_DAMAGE_WORDS}: the tables are not those of this schema")
        if path.stat().st_size <= _CHECKED_BYTES or _suspicion(path).exists():
            found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            if found != "ok":
                raise sqlite3.DatabaseError(f"{_DAMAGE_WORDS}: {found}")
            _suspicion(path).unlink(missing_ok=True)
    except UnicodeDecodeError as exc:
        # SQLite names what is damaged in the schema, and Python's sqlite3 cannot decode its sentence.
        connection.close()
        raise sqlite3.DatabaseError(f"{_DAMAGE_WORDS}: {exc.reason}") from exc
    except BaseException:
        connection.close()
        raise
    return connection


def connect_read_only(path: Path) -> sqlite3.Connection:
    """Open without writing anything beside the file: SQLite's shared-memory file cannot be made on such a card.

    An immutable file is read without its write-ahead log, which may hold the newest readings; where one is left over,
    or the schema is an older one, a copy in memory is read instead.
    """
    if not path.exists():
        raise ReadOnlyError(
            said(
                "{folder} cannot be written, and there is no archive on it yet: nothing can be measured",
                folder=Name(str(path.parent)),
            )
        )
    wal = log_of(path)
    with storage_errors(path):
        connection = migrations.opened(path, "mode=ro&immutable=1")
        try:
            wal_left = wal.exists() and wal.stat().st_size > 0
            if wal_left or migrations.schema_version(connection) < migrations.SCHEMA_VERSION:
                connection.close()
                connection = migrations.opened()
                _copy(path, wal, connection)
        except BaseException:
            connection.close()
            raise
    return connection


@contextmanager
def asked_beside(path: Path) -> Iterator[sqlite3.Connection]:
    """The archive for whoever looks at it from outside, perhaps as another user: it is only read, and nothing is made
    beside it. Raises StorageError."""
    # While the bench is at work its log lies beside the file; without one the file is all there is.
    at_work = all(path.with_name(path.name + suffix).exists() for suffix in ("-wal", "-shm"))
    how = "mode=ro" if at_work else "mode=ro&immutable=1"
    try:
        with closing(migrations.opened(path, how)) as asked:
            yield asked
    except sqlite3.Error as exc:
        raise StorageError(said("the archive cannot be asked ({reason})", reason=Name(str(exc)))) from exc


class FileOnDisk:
    """Whether the open file and its write-ahead log still are those that stand on the disk under their names."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._seen: dict[str, tuple[int, int]] = {}
        self.is_there()

    def is_there(self) -> bool:
        """False once the file was removed or replaced: what is written into it then nobody will find."""
        for suffix in ("", "-wal"):
            try:
                found = self._path.with_name(self._path.name + suffix).stat()
            except FileNotFoundError:
                # The log is made by the first writing, and stays while the file is open.
                if suffix in self._seen or not suffix:
                    return False
                continue
            if self._seen.setdefault(suffix, (found.st_dev, found.st_ino)) != (found.st_dev, found.st_ino):
                return False
        return True


def _copy(path: Path, wal: Path, into: sqlite3.Connection) -> None:
    """File and write-ahead log, brought up to date, into an empty database; nothing is written beside the file."""
    needed = 2 * sum(one.stat().st_size for one in (path, wal) if one.exists())
    # The folder for what is temporary may lie on the very card that takes nothing more; memory may not be ours to use.
    in_memory = os.access(_MEMORY, os.W_OK | os.X_OK) and shutil.disk_usage(_MEMORY).free > needed
    with tempfile.TemporaryDirectory(dir=_MEMORY if in_memory else None) as folder:
        copy = Path(folder) / "archive.sqlite"
        if is_damaged(path):
            bring_together(path, copy)
        else:
            shutil.copyfile(path, copy)
            if wal.exists():
                shutil.copyfile(wal, log_of(copy))
        with closing(sqlite3.connect(copy, isolation_level=None)) as source:
            source.backup(into)
    migrations.migrate(into)


def beside(path: Path, what: str, now: datetime | None) -> Path:
    """A name of its own beside the archive."""
    stamp = now.strftime("%Y%m%d-%H%M%S") if now else "undated"
    return path.with_name(f"{path.name}.{what}-{stamp}-{os.urandom(4).hex()}")


def set_aside(path: Path, now: datetime | None) -> Path:
    """Rename a damaged file with its write-ahead log; nothing is overwritten or deleted."""
    aside = beside(path, "damaged", now)
    forget(path)
    for suffix in ("", "-wal", "-shm"):
        part = path.with_name(path.name + suffix)
        if part.exists():
            part.rename(aside.with_name(aside.name + suffix))
    _suspicion(path).unlink(missing_ok=True)
    return aside


def suspect(path: Path) -> None:
    """Have the file looked over by the next opening."""
    with suppress(OSError):
        _suspicion(path).touch()


def _suspicion(path: Path) -> Path:
    """An empty file beside the archive: damage was met while it was in use, so the next opening looks it over."""
    return path.with_name(path.name + ".suspect")


def make_folder(folder: Path) -> None:
    """Make the folder and have the disk remember it."""
    if folder.exists():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_path(folder.parent)


def refuses_writing(path: Path) -> bool:
    """Whether file or folder sits on a read-only card, or is not ours to write."""
    existing = _nearest_folder(path)
    mounted_read_only = bool(os.statvfs(existing).f_flag & os.ST_RDONLY)
    return mounted_read_only or not os.access(existing, os.W_OK) or (path.exists() and not os.access(path, os.W_OK))


def without_room(path: Path) -> bool:
    """Whether the card holds no more than SQLite needs beside the file itself: short of that it speaks of input and
    output, of locks, or of a transaction that it has already taken back."""
    disk = os.statvfs(_nearest_folder(path))
    return disk.f_bavail * disk.f_frsize < _LEAST_FREE_BYTES


def _nearest_folder(path: Path) -> Path:
    existing = path.parent
    while not existing.exists():
        existing = existing.parent
    return existing


def read_only_sentence(path: Path) -> Said:
    """What to tell the person where the card refuses writing."""
    return said(
        "{parent} cannot be written: sessions can be looked at, but nothing new can be measured",
        parent=Name(str(path.parent)),
    )


def full_sentence(path: Path) -> Said:
    """What to tell the person where there is no room to write at all."""
    return said(
        "{parent} has no room left: sessions can be looked at and saved, but nothing new can be measured; make room, "
        "then start the bench anew",
        parent=Name(str(path.parent)),
    )


def is_damage(exc: sqlite3.DatabaseError) -> bool:
    """Whether the file itself is broken, so that trying again cannot help."""
    code = getattr(exc, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) or str(exc).startswith(_DAMAGE_WORDS)


def _card_is_full(path: Path) -> DiskFullError:
    return DiskFullError(said("{path}: the card is full; nothing was stored", path=Name(str(path))))


@contextmanager
def storage_errors(path: Path, *, storing: bool = False) -> Iterator[None]:
    """SQLite's and the system's errors become ours, with a word for the person: what was to be stored, or read."""
    try:
        yield
    except sqlite3.DatabaseError as exc:
        code = getattr(exc, "sqlite_errorcode", 0) & 0xFF
        if is_damage(exc):
            suspect(path)
            raise DamagedArchiveError(
                said(
                    "{path}: the archive is damaged ({exc}); start the bench anew, and what can be read of "
                    "it is recovered",
                    path=Name(str(path)),
                    exc=Name(str(exc)),
                )
            ) from exc
        if code == sqlite3.SQLITE_FULL or (code in _OF_THE_CARD and without_room(path)):
            raise _card_is_full(path) from exc
        if code == sqlite3.SQLITE_READONLY or refuses_writing(path):
            raise ReadOnlyError(read_only_sentence(path)) from exc
        if not storing:
            raise StorageError(
                said("{path}: the card could not be read ({exc})", path=Name(str(path)), exc=Name(str(exc)))
            ) from exc
        raise StorageError(
            said(
                "{path}: the card did not take it ({exc}); nothing was stored", path=Name(str(path)), exc=Name(str(exc))
            )
        ) from exc
    except UnicodeEncodeError as exc:
        raise BadInputError(said("{text} is no text that could be stored", text=Name(repr(exc.object)))) from exc
    except StorageError:
        raise
    except OSError as exc:
        if exc.errno == errno.ENOSPC:
            raise _card_is_full(path) from exc
        raise StorageError(said("{file}: {what}", file=Name(str(path)), what=reason_of(exc))) from exc

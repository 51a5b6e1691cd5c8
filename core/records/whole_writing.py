"""Files and folders written whole or not at all, on the disk when the call returns.

Input: bytes and where they belong. Output: the file or folder under its name, or an error in words and nothing half.
The order is what survives a power cut: write under another name, fsync, rename, fsync the folder.
"""

import errno
import fcntl
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from core.errors import DiskFullError, ReadOnlyError, StorageError, reason_of
from core.progress import Told, nobody
from core.records.checksums import CHECKSUMS_FILE, verify_folder
from core.records.session_id import kind_of_name
from core.said import Name, said

_PARTIAL = "-partial-"
_REPLACED = "-replaced-"


def write_file(target: Path, content: bytes) -> None:
    """Put the content under the name `target`, replacing what is there; raises StorageError and its kin."""
    partial = target.with_name(f"{target.name}{_PARTIAL}{os.urandom(4).hex()}")
    with writing_errors(target):
        try:
            _write_synced(partial, content)
            partial.replace(target)
            sync_path(target.parent)
        finally:
            partial.unlink(missing_ok=True)


def write_folder(files: Mapping[str, bytes], target: Path, told: Told = nobody) -> None:
    """Put the files, SHA256SUMS among them, into the folder `target`; a stop midway leaves no such folder.

    An equal folder that is there already is left alone, an earlier download is replaced, anything else is refused.
    `told` hears how many files are written. Raises DiskFullError, ReadOnlyError or StorageError.
    """
    with writing_errors(target), _alone_beside(target):
        if not _same(files, target):
            _refuse_foreign(target)
            with _partial(target) as partial:
                _write_files(files, partial, told)
                verify_folder(partial)
                _put_in_place(partial, target)


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """An empty folder that is put under the new name `target` when the block ends; a stop midway leaves no such folder.
    What is in it is brought onto the disk by whoever puts it there. Raises StorageError and its kin."""
    with writing_errors(target), _alone_beside(target), _partial(target) as partial:
        partial.mkdir()
        yield partial
        _put_in_place(partial, target)


@contextmanager
def _partial(target: Path) -> Iterator[Path]:
    partial = target.with_name(f"{target.name}{_PARTIAL}{os.urandom(4).hex()}")
    try:
        yield partial
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise


@contextmanager
def _alone_beside(target: Path) -> Iterator[None]:
    """One writer at a time, who removes what attempts of the same kind have left that were cut off: a stick that is
    pulled out keeps it, and most kinds never come by the same name again. What stands aside for another's sake may be
    all that is left of it, and stays."""
    target.parent.mkdir(parents=True, exist_ok=True)
    kind = kind_of_name(target.name)

    def is_kin(of: str) -> bool:
        return of == target.name or (kind is not None and kind_of_name(of) == kind)

    with _alone_in(target.parent) as alone:
        if alone:
            _remove(target.parent, _PARTIAL, is_kin)
        yield
        if alone:
            _remove(target.parent, _REPLACED, lambda of: of == target.name)


@contextmanager
def _alone_in(folder: Path) -> Iterator[bool]:
    """One writer at a time, whatever thread or program it is: the lock is on the folder, so nothing is left behind.

    False on a file system that locks no folder (some of those over a network): then nobody's remains are removed.
    """
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            alone = True
        except OSError:
            alone = False
        yield alone
    finally:
        os.close(handle)


def _refuse_foreign(target: Path) -> None:
    """Only what was written here is ever replaced: a folder of somebody's own never is."""
    if target.exists() and not (target / CHECKSUMS_FILE).is_file() and (not target.is_dir() or any(target.iterdir())):
        raise StorageError(
            said("{folder}: something else is there under this name; nothing was written", folder=Name(str(target)))
        )


def sync_path(path: Path) -> None:
    """Have the disk remember what a file holds, or the names in a folder."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def writing_errors(target: Path) -> Iterator[None]:
    """The system's errors in words of ours, for whoever writes `target` whole or not at all."""
    try:
        yield
    except StorageError:
        raise
    except OSError as exc:
        if exc.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise DiskFullError(
                said("{target}: there is no room left; nothing was written", target=Name(str(target)))
            ) from exc
        if exc.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise ReadOnlyError(
                said("{target}: writing is refused here; nothing was written", target=Name(str(target)))
            ) from exc
        raise StorageError(
            said("{target}: {what}; nothing was written", target=Name(str(target)), what=reason_of(exc))
        ) from exc


def _write_files(files: Mapping[str, bytes], folder: Path, told: Told) -> None:
    folder.mkdir()
    for done, (name, content) in enumerate(files.items()):
        told(done, len(files))
        _write_synced(folder / name, content)
    sync_path(folder)


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _put_in_place(partial: Path, target: Path) -> None:
    """A folder cannot be swapped for another in one step on FAT: the old one stands aside until it is done."""
    aside = target.with_name(f"{target.name}{_REPLACED}{os.urandom(4).hex()}")
    if target.exists():
        target.rename(aside)
    try:
        partial.rename(target)
    except OSError:
        if aside.exists():
            aside.rename(target)
        raise
    sync_path(target.parent)


def _same(files: Mapping[str, bytes], target: Path) -> bool:
    if not target.is_dir() or {path.name for path in target.iterdir()} != set(files):
        return False
    return all((target / name).read_bytes() == content for name, content in files.items())


def _remove(folder: Path, what: str, wanted: Callable[[str], bool]) -> None:
    """What was left so, of every name that is wanted."""
    for path in folder.iterdir():
        of, is_left, _ = path.name.rpartition(what)
        if is_left and wanted(of):
            shutil.rmtree(path)

"""Files and folders written whole or not at all, on the disk when the call returns.

Input: bytes and where they belong. Output: the file or folder under its name, or an error in words and nothing half.
The order is what survives a power cut: write under another name, fsync, rename, fsync the folder.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from core.errors import DiskFullError, ReadOnlyError, StorageError
from core.records.checksums import verify_folder

_PARTIAL = "-partial-"
_REPLACED = "-replaced-"


def write_file(target: Path, content: bytes) -> None:
    """Put the content under the name `target`, replacing what is there; raises StorageError and its kin."""
    partial = target.with_name(f"{target.name}{_PARTIAL}{secrets.token_hex(4)}")
    with writing_errors(target):
        try:
            _write_synced(partial, content)
            partial.replace(target)
            sync_folder(target.parent)
        finally:
            partial.unlink(missing_ok=True)


def write_folder(files: Mapping[str, bytes], target: Path) -> None:
    """Put the files, SHA256SUMS among them, into the folder `target`; a stop midway leaves no such folder.

    An equal folder that is there already is left alone, another one is replaced. Remains of attempts that were cut off
    are removed. Raises DiskFullError, ReadOnlyError or StorageError.
    """
    with writing_errors(target):
        _remove(target, _PARTIAL)
        if not _same(files, target):
            partial = target.with_name(f"{target.name}{_PARTIAL}{secrets.token_hex(4)}")
            try:
                _write_files(files, partial)
                _put_in_place(partial, target)
            except OSError:
                shutil.rmtree(partial, ignore_errors=True)
                raise
            verify_folder(target)
        _remove(target, _REPLACED)


def sync_folder(folder: Path) -> None:
    """Have the disk remember the names in a folder."""
    handle = os.open(folder, os.O_RDONLY)
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
            raise DiskFullError(f"{target}: there is no room left; nothing was written") from exc
        if exc.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise ReadOnlyError(f"{target}: writing is refused here; nothing was written") from exc
        raise StorageError(f"{target}: {exc.strerror or exc}; nothing was written") from exc


def _write_files(files: Mapping[str, bytes], folder: Path) -> None:
    folder.mkdir(parents=True)
    for name, content in files.items():
        _write_synced(folder / name, content)
    sync_folder(folder)


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _put_in_place(partial: Path, target: Path) -> None:
    """A folder cannot be swapped for another in one step on FAT: the old one stands aside until it is done."""
    aside = target.with_name(f"{target.name}{_REPLACED}{secrets.token_hex(4)}")
    if target.exists():
        target.rename(aside)
    try:
        partial.rename(target)
    except OSError:
        if aside.exists():
            aside.rename(target)
        raise
    sync_folder(target.parent)


def _same(files: Mapping[str, bytes], target: Path) -> bool:
    if not target.is_dir() or {path.name for path in target.iterdir()} != set(files):
        return False
    return all((target / name).read_bytes() == content for name, content in files.items())


def _remove(target: Path, what: str) -> None:
    if target.parent.is_dir():
        for path in target.parent.glob(f"{target.name}{what}*"):
            shutil.rmtree(path)

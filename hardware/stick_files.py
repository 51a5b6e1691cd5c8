"""Single files on a USB stick, or in a folder that stands for one: listed, read, and a new one written beside another.

Stage: hardware. Input: the place and file names on it. Output: what lies there, its bytes, or a finished new file. What
comes from a stick is foreign: sizes, depth and count are bounded, links are not followed, odd names are left alone.
"""

import os
import stat
from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path, PurePosixPath

from msgspec import Struct

from core.errors import BadInputError, CornerwiseError, NotAvailableError, reason_of
from core.records import write_file
from core.said import Name, Number, said
from hardware.usb_stick import (
    BLOCK_DEVICES,
    Progress,
    Step,
    Stick,
    StickAccess,
    check_room,
    mounted,
    reading_from,
    refuse_protected,
    stick_errors,
    writing_to,
)

MAX_FILE_BYTES = 8 * 1024 * 1024
MOST_LISTED = 40
_MOST_LOOKED_AT = 5000
_DEEPEST_FOLDER = 3
# FAT and exFAT hold names of 255 characters; some are kept for a number and for the partial name while writing.
_LONGEST_STEM = 120
_MOST_NUMBERED = 99


class FilePlace(Struct, frozen=True, kw_only=True):
    """Where files are exchanged: a stick, and the way to mount it."""

    stick: Stick
    access: StickAccess
    block_devices: Path = BLOCK_DEVICES


class FilesFound(Struct, frozen=True, kw_only=True):
    """Paths from the top of the place, '/' between folders, the newest first; `too_large` were left out for their size,
    `more` says that not everything was looked at or listed."""

    paths: tuple[str, ...]
    too_large: int = 0
    more: bool = False


class FolderAccess:
    """Stands for the helper where the bench was not installed: the folder is there, nothing has to be mounted."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def mount(self, partition: str, *, writable: bool) -> Path:
        """Make the folder where it is missing."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as exc:
            what = said("{file}: {what}", file=Name(str(self._folder)), what=reason_of(exc))
            raise NotAvailableError(what) from exc
        return self._folder

    def unmount(self) -> None:
        """There is nothing to let go."""


def folder_place(folder: Path) -> FilePlace:
    """A plain folder in the place of a stick."""
    stick = Stick(partition="", label=str(folder), size_bytes=0, write_protected=False)
    return FilePlace(stick=stick, access=FolderAccess(folder))


def find_files(place: FilePlace, suffixes: Collection[str]) -> FilesFound:
    """Every file whose name ends so; raises NotAvailableError and its kin when the place cannot be read."""
    found: list[tuple[float, str]] = []
    too_large = looked_at = 0
    with reading_from(place.stick, place.access, place.block_devices) as top:
        for entry in _entries(top, _DEEPEST_FOLDER):
            looked_at += 1
            if looked_at > _MOST_LOOKED_AT:
                break
            if entry is None:
                continue
            name, status = Path(entry), entry.stat(follow_symlinks=False)
            if name.suffix.lower() not in suffixes or not stat.S_ISREG(status.st_mode):
                continue
            if status.st_size > MAX_FILE_BYTES:
                too_large += 1
            else:
                found.append((status.st_mtime, name.relative_to(top).as_posix()))
    found.sort(key=lambda one: (-one[0], one[1]))
    return FilesFound(
        paths=tuple(path for _, path in found[:MOST_LISTED]),
        too_large=too_large,
        more=looked_at > _MOST_LOOKED_AT or len(found) > MOST_LISTED,
    )


def _entries(folder: Path, deeper: int) -> Iterator[os.DirEntry[str] | None]:
    """Files of a folder first, then those of its folders. None stands for what is passed over and counts all the same:
    folders, hidden ones, names that cannot be shown; a stick may hold any number of them."""
    folders: list[Path] = []
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith(".") or not entry.name.isprintable():
                yield None
            elif entry.is_dir(follow_symlinks=False):
                folders.append(Path(entry))
                yield None
            else:
                yield entry
    for inner in folders if deeper else []:
        yield from _entries(inner, deeper - 1)


class ReadFile(Struct, frozen=True, kw_only=True):
    """A file as it was read: where it lies, and its bytes, by which it is known again."""

    path: str
    content: bytes


def read_file(place: FilePlace, path: str) -> ReadFile:
    """The whole of a file that was found there; raises NotAvailableError for what is no such file any more."""
    with reading_from(place.stick, place.access, place.block_devices) as top:
        return ReadFile(path=path, content=_content(top, path))


def write_new_file(
    place: FilePlace, path: str, content: bytes, progress: Progress, *, made_from: ReadFile | None = None
) -> str:
    """Put a new file there as `path` says, or with a number where that name is taken; returns the path it got.

    `made_from` must still be what was read, before and after. Written whole, let go, mounted anew read-only and
    compared before it is said to be safe to remove; what the place did not keep is taken away again. Raises as
    `download_to_stick` does.
    """
    stick, access = place.stick, place.access
    refuse_protected(stick)
    with stick_errors(stick, place.block_devices):
        progress(Step.WRITING)
        with mounted(stick, access, writable=True) as top:
            _check_unchanged(top, made_from)
            check_room(len(content), stick, top)
            written = _free_path(top, path)
            write_file(top / written, content)
        progress(Step.CHECKING)
        try:
            with mounted(stick, access, writable=False) as top:
                _check_unchanged(top, made_from)
                if _content(top, written, max(MAX_FILE_BYTES, len(content))) != content:
                    raise BadInputError(said("{file} is not what was written", file=Name(str(written))))
        except BadInputError:
            with suppress(OSError, CornerwiseError), mounted(stick, access, writable=True) as top:
                (top / written).unlink()
            raise
    progress(Step.SAFE)
    return written


def remove_file(place: FilePlace, path: str) -> None:
    """Take a file away and write zeros over what it held, as far as a stick lets anybody; raises as `download_to_stick`
    does."""
    with writing_to(place.stick, place.access, place.block_devices) as top:
        size = len(_content(top, path))
        with (top / path).open("r+b") as file:
            file.write(bytes(size))
            file.flush()
            os.fsync(file.fileno())
        (top / path).unlink()


def new_name(path: str, ending: str) -> str:
    """A path beside `path` for what is made of it: `jobs/frame.svg` with `corrected` is `jobs/frame-corrected.svg`."""
    old = PurePosixPath(path)
    return str(old.with_name(f"{old.stem[:_LONGEST_STEM].rstrip(' .')}-{ending}{old.suffix}"))


def _free_path(top: Path, path: str) -> str:
    wanted = PurePosixPath(path)
    numbered = (f"{wanted.stem}-{number}{wanted.suffix}" for number in range(2, _MOST_NUMBERED + 1))
    for name in (wanted.name, *numbered):
        if not os.path.lexists(top / wanted.with_name(name)):
            return str(wanted.with_name(name))
    raise NotAvailableError(
        said(
            "{name} is there {count} times already: clear some of them away",
            name=Name(wanted.name),
            count=_MOST_NUMBERED,
        )
    )


def _check_unchanged(top: Path, made_from: ReadFile | None) -> None:
    if made_from is not None and _content(top, made_from.path) != made_from.content:
        raise NotAvailableError(
            said("{path} is not the file that was looked at: choose it again", path=Name(made_from.path))
        )


def _content(top: Path, path: str, most_bytes: int = MAX_FILE_BYTES) -> bytes:
    gone = NotAvailableError(said("{path} is not there any more: look again", path=Name(path)))
    file = top / path
    if not file.resolve().is_relative_to(top.resolve()):
        raise gone
    if not file.exists() or not stat.S_ISREG(file.lstat().st_mode):
        raise gone
    with file.open("rb") as opened:
        content = opened.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise NotAvailableError(
            said("{path} is larger than {most}", path=Name(str(path)), most=Number(most_bytes // 1024**2, sign="MB"))
        )
    return content

"""The download onto a USB stick: written, unmounted, mounted read-only, checked, unmounted; only then safe to remove.

Stage: hardware. Input: the files of a download. Output: one finished folder on the stick, or a sentence that says why
not, and nothing half under the finished name. Mounting needs root and goes through the helper.
"""

import os
import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from msgspec import Struct

from core.errors import BadInputError, CornerwiseError, DiskFullError, NotAvailableError, ReadOnlyError, StorageError
from core.progress import Told, nobody
from core.records import FOLDER, verify_folder, write_folder
from core.said import Name, Number, Said, Series, said
from hardware.helper_client import SOCKET_PATH, Verb, ask_helper

BLOCK_DEVICES = Path("/sys/class/block")
_DISK = re.compile(r"sd[a-z]")
_SECTOR_BYTES = 512
# What a file system takes for names and for filling up clusters (exFAT's are up to 128 kB).
_OVERHEAD_BYTES = 2 * 1024 * 1024


class Step(StrEnum):
    """Where a download is."""

    WRITING = "writing"
    CHECKING = "checking"
    SAFE = "safe"

    @property
    def words(self) -> Said:
        """The same for the person."""
        return _STEP_WORDS[self]


_STEP_WORDS = {
    Step.WRITING: said("writing"),
    Step.CHECKING: said("checking what was written"),
    Step.SAFE: said("safe to remove"),
}


Progress = Callable[[Step], None]


class Stick(Struct, frozen=True, kw_only=True):
    """A stick that is plugged in: the partition to mount, and what it calls itself.

    Without a partition it is a folder that stands for one.
    """

    partition: str
    label: str
    size_bytes: int
    write_protected: bool


class StickAccess(Protocol):
    """How a stick is mounted; one at a time."""

    def mount(self, partition: str, *, writable: bool) -> Path:
        """Mount and return the folder; raises NotAvailableError with the reason."""
        ...

    def unmount(self) -> None:
        """Write out what is pending and let go, also of a stick that was pulled."""
        ...


class HelperAccess:
    """Mounting by the privileged helper."""

    def __init__(self, socket_path: Path = SOCKET_PATH) -> None:
        self._socket_path = socket_path

    def mount(self, partition: str, *, writable: bool) -> Path:
        """Mount for this program's user."""
        access = "rw" if writable else "ro"
        return Path(ask_helper(Verb.MOUNT_STICK, partition, access, socket_path=self._socket_path))

    def unmount(self) -> None:
        """Unmount; nothing happens when nothing is mounted."""
        ask_helper(Verb.UNMOUNT_STICK, socket_path=self._socket_path)


def find_sticks(block_devices: Path = BLOCK_DEVICES) -> tuple[Stick, ...]:
    """Every USB stick that is plugged in, by its largest partition (or itself, where it has none)."""
    if not block_devices.is_dir():
        return ()
    disks = [disk for disk in sorted(block_devices.iterdir()) if _DISK.fullmatch(disk.name)]
    return tuple(_stick(disk) for disk in disks if "/usb" in os.path.realpath(disk) and _number(disk / "size") > 0)


def _stick(disk: Path) -> Stick:
    partitions = [path for path in disk.resolve().glob(f"{disk.name}[0-9]*") if (path / "partition").exists()]
    largest = max(partitions, key=lambda path: _number(path / "size"), default=disk)
    words = [_text(disk / "device" / name) for name in ("vendor", "model")]
    return Stick(
        partition=largest.name,
        label=" ".join(word for word in words if word) or disk.name,
        size_bytes=_number(largest / "size") * _SECTOR_BYTES,
        write_protected=_number(disk / "ro") != 0,
    )


def the_one_stick(sticks: tuple[Stick, ...]) -> Stick:
    """The stick to write to; raises NotAvailableError when there is none, or more than one."""
    if not sticks:
        raise NotAvailableError(said("no USB stick is plugged in"))
    if len(sticks) > 1:
        names = Series(tuple(Name(stick.label) for stick in sticks), joint=", ")
        raise NotAvailableError(
            said(
                "{count} sticks are plugged in ({names}): leave only the one to write to",
                count=len(sticks),
                names=names,
            )
        )
    return sticks[0]


def download_to_stick(
    files: Mapping[str, bytes],
    name: str,
    stick: Stick,
    access: StickAccess,
    progress: Progress,
    block_devices: Path = BLOCK_DEVICES,
    told: Told = nobody,
) -> None:
    """Put a folder `name` with these files on the stick; it may be pulled when this returns. `told` hears how many
    files are written.

    Raises NotAvailableError when the stick is foreign or was pulled, DiskFullError, ReadOnlyError, or StorageError when
    it did not keep what was written.
    """
    with writing_to(stick, access, block_devices) as folder:
        progress(Step.WRITING)
        check_room(sum(len(content) for content in files.values()), stick, folder)
        write_folder(files, folder / FOLDER / name, told)
    progress(Step.CHECKING)
    with stick_errors(stick, block_devices), mounted(stick, access, writable=False) as folder:
        verify_folder(folder / FOLDER / name)
    progress(Step.SAFE)


@contextmanager
def writing_to(stick: Stick, access: StickAccess, block_devices: Path = BLOCK_DEVICES) -> Iterator[Path]:
    """The stick's folder for as long as it is written to; whatever goes wrong is said as the person sees it.

    Raises as `download_to_stick` does.
    """
    refuse_protected(stick)
    with stick_errors(stick, block_devices), mounted(stick, access, writable=True) as folder:
        yield folder


@contextmanager
def reading_from(stick: Stick, access: StickAccess, block_devices: Path = BLOCK_DEVICES) -> Iterator[Path]:
    """The stick's folder for as long as it is read; whatever goes wrong is said as the person sees it.

    Raises as `download_to_stick` does, and BadInputError for what was there and is not what was looked for.
    """
    with stick_errors(stick, block_devices, written=False), mounted(stick, access, writable=False) as folder:
        yield folder


def refuse_protected(stick: Stick) -> None:
    """Raises ReadOnlyError for a stick whose switch forbids writing."""
    if stick.write_protected:
        raise ReadOnlyError(
            said("{stick} is write-protected: move its switch, or take another stick", stick=Name(stick.label))
        )


def check_room(needed_bytes: int, stick: Stick, folder: Path) -> None:
    """Raise DiskFullError with both numbers where so many bytes, and what a file system takes besides, have no room."""
    needed = needed_bytes + _OVERHEAD_BYTES
    free = shutil.disk_usage(folder).free
    if free < needed:
        raise DiskFullError(
            said(
                "{stick} is full: {free} are free, {needed} are needed; nothing was written",
                stick=Name(stick.label),
                free=Number(free // 1024, 0, "kB"),
                needed=Number(needed // 1024, 0, "kB"),
            )
        )


@contextmanager
def mounted(stick: Stick, access: StickAccess, *, writable: bool) -> Iterator[Path]:
    """The stick's folder, for as long as the block lasts."""
    folder = access.mount(stick.partition, writable=writable)
    try:
        yield folder
    finally:
        access.unmount()


@contextmanager
def stick_errors(stick: Stick, block_devices: Path, *, written: bool = True) -> Iterator[None]:
    """Whatever went wrong, said as the person sees it: a pulled stick shows in a dozen different errors.

    `written` False where nothing was written that the stick could have spoiled.
    """
    name = Name(stick.label)
    try:
        yield
    except (OSError, BadInputError, NotAvailableError) as exc:
        if stick.partition and not (block_devices / stick.partition).exists():
            raise NotAvailableError(
                said("{stick} was pulled out before it was finished: plug it in and try again", stick=name)
            ) from exc
        if isinstance(exc, BadInputError) and written:
            raise StorageError(
                said("{stick} did not keep what was written ({why}): take another stick", stick=name, why=exc.what)
            ) from exc
        if isinstance(exc, ReadOnlyError):
            raise ReadOnlyError(
                said(
                    "{stick} refuses writing; its file system may be damaged: check it on a computer, or take another "
                    "stick",
                    stick=name,
                )
            ) from exc
        if isinstance(exc, CornerwiseError):
            raise
        why = Name(exc.strerror or str(exc))
        raise StorageError(
            said("{stick}: {why}; check it on a computer, or take another", stick=name, why=why)
        ) from exc


def _number(path: Path) -> int:
    text = _text(path)
    return int(text) if text.isdigit() else 0


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""

"""The download by cable: the Pi shows itself to a computer as a read-only drive with the sessions on it.

Stage: hardware. Input: downloads. Output: a FAT image, new every time, put in place of the one before. An image is
never changed while a computer may be reading it: a new one is written beside it and swapped in after an eject.
"""

import os
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from core.errors import DiskFullError, NotAvailableError, StorageError
from core.records import FOLDER, sync_path, writing_errors
from core.said import Name, said
from hardware.helper_client import Verb, ask_helper
from hardware.root_verbs import RootPlaces

# Where the helper looks for them.
IMAGES, GADGET = RootPlaces().images, RootPlaces().gadget
LABEL = "CORNERWISE"
# FAT16 with clusters of 4 kB (8 sectors) from here on; smaller images would become FAT12, which some hosts read badly.
_LEAST_BYTES = 32 * 1024 * 1024
_CLUSTER_BYTES = 4096
_TOOL_TIMEOUT_S = 100.0

Downloads = Mapping[str, Mapping[str, bytes]]


def build_image(downloads: Downloads, image: Path, front: Mapping[str, bytes] | None = None) -> None:
    """Write a FAT image with one folder for each download, the files of `front` before them all; on the disk when this
    returns, or not there at all.

    Raises NotAvailableError without mkfs.vfat and mcopy, DiskFullError or StorageError when it cannot be written.
    """
    partial = image.with_suffix(".partial")
    try:
        with writing_errors(image), tempfile.TemporaryDirectory(dir=image.parent, prefix="drive-") as folder:
            # One folder holds all: the root of a FAT16 file system has room for 512 names only.
            tree = Path(folder) / FOLDER
            tree.mkdir()
            for name, files in downloads.items():
                (tree / name).mkdir()
                for file, content in files.items():
                    (tree / name / file).write_bytes(content)
            shown = [tree]
            for file, content in (front or {}).items():
                shown.append(Path(folder) / file)
                shown[-1].write_bytes(content)
            _make_file_system(partial, _image_bytes({**downloads, "": front or {}}))
            _run("mcopy", "-s", "-Q", "-i", str(partial), *map(str, shown), "::")
            with partial.open("rb+") as written:
                os.fsync(written.fileno())
            partial.rename(image)
            sync_path(image.parent)
    finally:
        partial.unlink(missing_ok=True)


def can_be_drive(gadget: Path = GADGET) -> bool:
    """Whether this board can be a drive on a computer's USB cable: it has a device port, and was set up for it."""
    return gadget.is_dir()


def show_on_cable(
    downloads: Downloads,
    front: Mapping[str, bytes] | None = None,
    *,
    images: Path = IMAGES,
    gadget: Path = GADGET,
    ask: Callable[..., str] = ask_helper,
) -> Path:
    """Build a new image and put it in place of the one shown; returns its path and removes the ones before.

    Raises NotAvailableError on a board without a USB device port, or while the computer has not ejected the drive.
    """
    if not can_be_drive(gadget):
        raise NotAvailableError(
            said("this board cannot be a USB drive on a cable (only those with a USB device port can): use a stick")
        )
    image = images / f"records-{_next_number(images)}.img"
    build_image(downloads, image, front)
    try:
        ask(Verb.SWAP_IMAGE, image.name)
    except NotAvailableError:
        image.unlink()
        raise
    for old in images.glob("records-*.img"):
        if old != image:
            old.unlink()
    return image


def _next_number(images: Path) -> int:
    numbers = [int(number) for path in images.glob("records-*.img") if (number := path.stem[8:]).isdigit()]
    return max(numbers, default=0) + 1


def _image_bytes(downloads: Downloads) -> int:
    """Room for every file in whole clusters, for folders, and a tenth for the file system itself."""
    sizes = [len(content) for files in downloads.values() for content in files.values()]
    clusters = sum(-(-size // _CLUSTER_BYTES) for size in sizes) + 2 * len(downloads)
    return max(_LEAST_BYTES, int(clusters * _CLUSTER_BYTES * 1.1))


def _make_file_system(image: Path, size_bytes: int) -> None:
    image.unlink(missing_ok=True)
    sectors = str(_CLUSTER_BYTES // 512)
    _run("mkfs.vfat", "-C", "-n", LABEL, "-s", sectors, str(image), str(size_bytes // 1024))


def _run(*command: str) -> None:
    tool = Name(command[0])
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_TOOL_TIMEOUT_S, check=False)
    except FileNotFoundError as exc:
        raise NotAvailableError(said("{tool} is missing: install dosfstools and mtools", tool=tool)) from exc
    except subprocess.TimeoutExpired as exc:
        raise StorageError(said("{tool} did not end", tool=tool)) from exc
    if done.returncode != 0:
        words = (done.stderr or done.stdout).strip()
        if "No space left" in words:
            raise DiskFullError(said("the card is full: the drive for the computer could not be written"))
        raise StorageError(said("{tool}: {why}", tool=tool, why=Name(words)))

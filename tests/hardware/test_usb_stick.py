"""The download onto a stick, on folders instead of a stick; on the real USB stack in test_usb_real_kernel.py."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from core.errors import DiskFullError, NotAvailableError, ReadOnlyError, StorageError
from core.records.checksums import CHECKSUMS_FILE, checksums_text
from hardware.usb_stick import Step, Stick, download_to_stick, find_sticks, the_one_stick

FILES = {"session.json": b"{}\n", "report.pdf": b"%PDF-1.7\n" * 300}
FILES[CHECKSUMS_FILE] = checksums_text(FILES).encode()
NAME = "20260301-140509-1a2b3c4d"


def block_devices(folder: Path, *disks: str, protected: str = "0", sectors: int = 64_000) -> Path:
    """A tree as the kernel shows it: /sys/class/block with links to devices on the USB bus."""
    classes = folder / "class"
    classes.mkdir(exist_ok=True)
    for disk in disks:
        device = folder / "devices" / "usb1" / disk
        (device / "device").mkdir(parents=True)
        (device / "size").write_text(f"{sectors}\n")
        (device / "ro").write_text(f"{protected}\n")
        (device / "device" / "vendor").write_text("Grey   \n")
        (device / "device" / "model").write_text(f"stick {disk} \n")
        for number, size in ((1, 2048), (2, sectors - 2048)):
            partition = device / f"{disk}{number}"
            partition.mkdir()
            (partition / "partition").write_text(f"{number}\n")
            (partition / "size").write_text(f"{size}\n")
            (classes / partition.name).symlink_to(partition)
        (classes / disk).symlink_to(device)
    return classes


class FolderAccess:
    """Stands for the helper; keeps its history, and does something of the test's at a chosen moment."""

    def __init__(self, folder: Path, **at: Callable[[], object]) -> None:
        self.history: list[str] = []
        self._folder = folder
        self._at = at

    def _log(self, word: str) -> None:
        self.history.append(word)
        self._at.get(word, lambda: None)()

    def mount(self, partition: str, *, writable: bool) -> Path:
        self._log("rw" if writable else "ro")
        return self._folder

    def unmount(self) -> None:
        self._log(f"unmount_{self.history.count('rw') + self.history.count('ro')}")


def stick_of(classes: Path) -> Stick:
    return the_one_stick(find_sticks(classes))


def pulled(classes: Path) -> None:
    for path in classes.iterdir():
        path.unlink()


def test_a_stick_is_found_by_its_largest_partition(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sda")
    (classes / "mmcblk0").mkdir()
    (stick,) = find_sticks(classes)
    assert stick == Stick(partition="sda2", label="Grey stick sda", size_bytes=61_952 * 512, write_protected=False)


def test_an_internal_disk_and_an_empty_card_reader_are_no_sticks(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sdb", sectors=0)
    internal = tmp_path / "devices" / "pci" / "sda"
    internal.mkdir(parents=True)
    (internal / "size").write_text("9000\n")
    (classes / "sda").symlink_to(internal)
    assert find_sticks(classes) == ()
    assert find_sticks(tmp_path / "nowhere") == ()


def test_none_or_two_sticks_are_said(tmp_path: Path) -> None:
    with pytest.raises(NotAvailableError, match="no USB stick"):
        the_one_stick(())
    with pytest.raises(NotAvailableError, match=r"2 sticks .*stick sda, Grey stick sdb.* leave only"):
        the_one_stick(find_sticks(block_devices(tmp_path, "sda", "sdb")))


def test_a_download_is_written_checked_and_let_go_in_this_order(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sda")
    access, steps = FolderAccess(tmp_path / "stick"), list[Step]()
    (tmp_path / "stick").mkdir()
    download_to_stick(FILES, NAME, stick_of(classes), access, steps.append, classes)
    assert access.history == ["rw", "unmount_1", "ro", "unmount_2"]
    assert steps == [Step.WRITING, Step.CHECKING, Step.SAFE]
    folder = tmp_path / "stick" / "cornerwise" / NAME
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == FILES


def test_a_write_protected_stick_is_not_even_mounted(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sda", protected="1")
    access = FolderAccess(tmp_path)
    with pytest.raises(ReadOnlyError, match="move its switch"):
        download_to_stick(FILES, NAME, stick_of(classes), access, lambda _: None, classes)
    assert access.history == []


def test_a_full_stick_is_said_with_its_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    classes = block_devices(tmp_path, "sda")
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1024 * 100))
    access = FolderAccess(tmp_path / "stick")
    (tmp_path / "stick").mkdir()
    with pytest.raises(DiskFullError, match="100 kB are free, 2050 kB are needed"):
        download_to_stick(FILES, NAME, stick_of(classes), access, lambda _: None, classes)
    assert access.history == ["rw", "unmount_1"]
    assert list((tmp_path / "stick").iterdir()) == []


@pytest.mark.parametrize("moment", ["rw", "unmount_1", "ro"])
def test_a_stick_pulled_at_any_moment_is_said_as_that(tmp_path: Path, moment: str) -> None:
    """Whatever error the kernel makes of it; here the folder is gone with the device."""
    classes = block_devices(tmp_path, "sda")
    mounted = tmp_path / "stick"
    mounted.mkdir()

    def pull() -> None:
        pulled(classes)
        shutil.rmtree(mounted)
        raise OSError(5, "Input/output error")

    steps: list[Step] = []
    with pytest.raises(NotAvailableError, match="pulled out before it was finished"):
        download_to_stick(
            FILES, NAME, stick_of(classes), FolderAccess(mounted, **{moment: pull}), steps.append, classes
        )
    assert Step.SAFE not in steps


def test_a_stick_that_keeps_something_else_is_found_out(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sda")
    mounted = tmp_path / "stick"
    mounted.mkdir()
    report = mounted / "cornerwise" / NAME / "report.pdf"
    access = FolderAccess(mounted, unmount_1=lambda: report.write_bytes(b"%PDF-1.8\n" * 300))
    with pytest.raises(StorageError, match="did not keep what was written"):
        download_to_stick(FILES, NAME, stick_of(classes), access, lambda _: None, classes)
    assert access.history[-1] == "unmount_2"


def test_a_foreign_stick_is_refused_in_the_helper_s_words(tmp_path: Path) -> None:
    classes = block_devices(tmp_path, "sda")

    def refuse() -> None:
        raise NotAvailableError("the stick has the file system ext4; format it as FAT32 or exFAT")

    with pytest.raises(NotAvailableError, match="format it as FAT32"):
        download_to_stick(FILES, NAME, stick_of(classes), FolderAccess(tmp_path, rw=refuse), lambda _: None, classes)

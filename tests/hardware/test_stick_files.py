"""Single files on a stick, on folders instead of a stick; on the real USB stack in test_usb_real_kernel.py."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from core.errors import DiskFullError, NotAvailableError, ReadOnlyError, StorageError
from hardware.stick_files import (
    MAX_FILE_BYTES,
    MOST_LISTED,
    FilePlace,
    ReadFile,
    find_files,
    folder_place,
    new_name,
    read_file,
    write_new_file,
)
from hardware.usb_stick import Step
from tests.hardware.test_usb_stick import FolderAccess, block_devices, pulled, stick_of

DESIGN = b"<svg/>\n" * 100
SUFFIXES = (".svg", ".dxf")


@pytest.fixture
def top(tmp_path: Path) -> Path:
    """What the stick holds."""
    folder = tmp_path / "stick"
    (folder / "jobs").mkdir(parents=True)
    (folder / "jobs" / "frame.svg").write_bytes(DESIGN)
    return folder


@pytest.fixture
def classes(tmp_path: Path) -> Path:
    return block_devices(tmp_path, "sda")


def place(top: Path, classes: Path, **at: object) -> FilePlace:
    return FilePlace(stick=stick_of(classes), access=FolderAccess(top, **at), block_devices=classes)  # type: ignore[arg-type]


def aged(file: Path, seconds: int, content: bytes = DESIGN) -> Path:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content)
    os.utime(file, (1_700_000_000 - seconds, 1_700_000_000 - seconds))
    return file


def test_designs_are_listed_newest_first_by_reading_alone(top: Path, classes: Path) -> None:
    for seconds, name in enumerate(("jobs/frame.svg", "b.DXF", "deep/er/still/c.svg", "note.txt", ".hidden.svg")):
        aged(top / name, seconds)
    where = place(top, classes)
    assert find_files(where, SUFFIXES).paths == ("jobs/frame.svg", "b.DXF", "deep/er/still/c.svg")
    assert where.access.history == ["ro", "unmount_1"]  # type: ignore[attr-defined]


def test_what_is_too_deep_too_large_no_file_or_a_link_is_left_out(top: Path, classes: Path) -> None:
    aged(top / "1/2/3/4/deep.svg", 0)
    with (top / "large.svg").open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    (top / "link.svg").symlink_to(top / "jobs/frame.svg")
    (top / "linked").symlink_to(top / "jobs")
    os.mkfifo(top / "pipe.svg")
    (top / "bell\a.svg").write_bytes(DESIGN)
    found = find_files(place(top, classes), SUFFIXES)
    assert (found.paths, found.too_large, found.more) == (("jobs/frame.svg",), 1, False)


def test_a_stick_full_of_designs_is_listed_in_part_and_it_says_so(top: Path, classes: Path) -> None:
    for number in range(MOST_LISTED + 5):
        aged(top / f"{number}.svg", number)
    found = find_files(place(top, classes), SUFFIXES)
    assert (len(found.paths), found.more) == (MOST_LISTED, True)


@pytest.mark.parametrize("name", ["{}", ".{}", "{}\a"], ids=["folders", "hidden", "odd"])
def test_a_stick_with_any_number_of_what_is_passed_over_is_looked_at_in_part(
    top: Path, classes: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A million empty folders, or hidden files, were all walked through: the bench looked for half an hour."""
    monkeypatch.setattr("hardware.stick_files._MOST_LOOKED_AT", 20)
    for number in range(30):
        (top / name.format(number)).mkdir()
    found = find_files(place(top, classes), SUFFIXES)
    assert found.more


@pytest.mark.parametrize("path", ["jobs/gone.svg", "../outside.svg", "jobs", "link.svg"])
def test_what_is_no_file_of_the_stick_is_not_read(top: Path, classes: Path, path: str) -> None:
    (top.parent / "outside.svg").write_bytes(DESIGN)
    (top / "link.svg").symlink_to(top.parent / "outside.svg")
    with pytest.raises(NotAvailableError, match="not there any more"):
        read_file(place(top, classes), path)


def test_a_file_that_grew_is_not_read(top: Path, classes: Path) -> None:
    with (top / "jobs/frame.svg").open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    with pytest.raises(NotAvailableError, match="larger than 8 MB"):
        read_file(place(top, classes), "jobs/frame.svg")


def test_a_copy_is_written_beside_checked_and_let_go_in_this_order(top: Path, classes: Path) -> None:
    where, steps = place(top, classes), list[Step]()
    original = read_file(where, "jobs/frame.svg")
    written = write_new_file(where, new_name(original.path, "corrected"), b"new", steps.append, made_from=original)
    assert written == "jobs/frame-corrected.svg"
    assert steps == [Step.WRITING, Step.CHECKING, Step.SAFE]
    assert where.access.history[2:] == ["rw", "unmount_2", "ro", "unmount_3"]  # type: ignore[attr-defined]
    assert {file.name: file.read_bytes() for file in (top / "jobs").iterdir()} == {
        "frame.svg": DESIGN,
        "frame-corrected.svg": b"new",
    }


def test_nothing_is_ever_overwritten(top: Path, classes: Path) -> None:
    for expected in ("copy.svg", "copy-2.svg", "copy-3.svg"):
        assert write_new_file(place(top, classes), "copy.svg", expected.encode(), lambda _: None) == expected
        assert (top / expected).read_bytes() == expected.encode()
    for number in range(4, 100):
        (top / f"copy-{number}.svg").touch()
    with pytest.raises(NotAvailableError, match="there 99 times already"):
        write_new_file(place(top, classes), "copy.svg", b"", lambda _: None)


def test_an_original_that_is_another_one_by_now_stops_it(top: Path, classes: Path) -> None:
    old = ReadFile(path="jobs/frame.svg", content=b"what was looked at")
    with pytest.raises(NotAvailableError, match="not the file that was looked at"):
        write_new_file(place(top, classes), "copy.svg", b"new", lambda _: None, made_from=old)
    assert not (top / "copy.svg").exists()


def test_a_stick_that_keeps_something_else_is_found_out_and_the_copy_taken_away(top: Path, classes: Path) -> None:
    where = place(top, classes, unmount_1=lambda: (top / "copy.svg").write_bytes(b"other"))
    with pytest.raises(StorageError, match="did not keep what was written"):
        write_new_file(where, "copy.svg", b"new", lambda _: None)
    assert not (top / "copy.svg").exists()


@pytest.mark.parametrize("moment", ["rw", "unmount_1", "ro"])
def test_a_stick_pulled_at_any_moment_is_said_as_that(top: Path, classes: Path, moment: str) -> None:
    def pull() -> None:
        pulled(classes)
        shutil.rmtree(top, ignore_errors=True)
        raise OSError(5, "Input/output error")

    steps: list[Step] = []
    with pytest.raises(NotAvailableError, match="pulled out before it was finished"):
        write_new_file(place(top, classes, **{moment: pull}), "copy.svg", b"new", steps.append)
    assert Step.SAFE not in steps


def test_a_stick_that_cannot_be_read_is_said_in_words(top: Path, classes: Path) -> None:
    def broken() -> None:
        raise OSError(5, "Input/output error")

    with pytest.raises(StorageError, match=r"stick sda: Input/output error; check it"):
        find_files(place(top, classes, ro=broken), SUFFIXES)


def test_a_full_and_a_locked_stick(top: Path, classes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1024 * 100))
    with pytest.raises(DiskFullError, match="100 kB are free"):
        write_new_file(place(top, classes), "copy.svg", b"new", lambda _: None)
    (tmp_path / "locked").mkdir()
    locked = place(top, block_devices(tmp_path / "locked", "sdb", protected="1"))
    with pytest.raises(ReadOnlyError, match="move its switch"):
        write_new_file(locked, "copy.svg", b"new", lambda _: None)
    assert [file.name for file in top.iterdir()] == ["jobs"]


def test_a_folder_stands_for_a_stick(tmp_path: Path) -> None:
    where = folder_place(tmp_path / "made" / "designs")
    assert find_files(where, SUFFIXES).paths == ()
    assert write_new_file(where, "copy.svg", b"new", lambda _: None) == "copy.svg"
    assert read_file(where, "copy.svg").content == b"new"


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("frame.svg", "frame-corrected.svg"),
        ("jobs/Rücken v2.0.DXF", "jobs/Rücken v2.0-corrected.DXF"),
        ("a" * 300 + ".svg", "a" * 120 + "-corrected.svg"),
    ],
)
def test_the_new_name_stands_beside_the_old(path: str, name: str) -> None:
    assert new_name(path, "corrected") == name

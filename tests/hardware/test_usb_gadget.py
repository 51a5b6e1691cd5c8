"""The drive for the cable: images read back with tools that are not ours; on the real USB stack elsewhere."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from core.errors import NotAvailableError
from core.records.checksums import CHECKSUMS_FILE, checksums_text, verify_folder
from hardware.helper_client import Verb
from hardware.usb_gadget import build_image, show_on_cable

FILES = {"session.json": b"{}\n", "report.pdf": b"%PDF-1.7\n" * 5000}
FILES[CHECKSUMS_FILE] = checksums_text(FILES).encode()
DOWNLOADS = {f"20260301-14050{n}-1a2b3c4d": FILES for n in range(9)}

tools = pytest.mark.skipif(
    shutil.which("mkfs.vfat") is None or shutil.which("mcopy") is None, reason="needs dosfstools and mtools"
)


class Helper:
    """Answers for the privileged helper; keeps what it was asked, or says no."""

    def __init__(self, refusal: str = "") -> None:
        self.asked: list[tuple[str, ...]] = []
        self._refusal = refusal

    def __call__(self, verb: Verb, *words: str) -> str:
        self.asked.append((verb, *words))
        if self._refusal:
            raise NotAvailableError(self._refusal)
        return ""


@tools
def test_an_image_is_a_clean_file_system_with_every_download_whole(tmp_path: Path) -> None:
    image = tmp_path / "records-1.img"
    build_image(DOWNLOADS, image)
    assert [path.name for path in tmp_path.iterdir()] == ["records-1.img"]
    checked = subprocess.run(["fsck.vfat", "-n", image], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stdout
    out = tmp_path / "out"
    out.mkdir()
    subprocess.run(["mcopy", "-s", "-n", "-i", image, "::*", out], check=True)
    assert {path.name for path in (out / "cornerwise").iterdir()} == set(DOWNLOADS)
    for folder in (out / "cornerwise").iterdir():
        verify_folder(folder)


@tools
def test_an_image_grows_with_what_is_in_it(tmp_path: Path) -> None:
    """More downloads than the root of such a file system has room for, and more bytes than the smallest image."""
    many = {f"s{n}": {"f": b"x"} for n in range(520)} | {"large": {"f": b"x" * 40_000_000}}
    build_image(many, tmp_path / "records-1.img")
    assert subprocess.run(["fsck.vfat", "-n", tmp_path / "records-1.img"], capture_output=True).returncode == 0
    build_image({}, tmp_path / "empty.img")
    assert (tmp_path / "empty.img").stat().st_size < (tmp_path / "records-1.img").stat().st_size


@tools
def test_a_new_image_takes_the_place_of_the_one_before(tmp_path: Path) -> None:
    helper = Helper()
    for _ in range(2):
        show_on_cable(DOWNLOADS, images=tmp_path, gadget=tmp_path, ask=helper)
    assert helper.asked == [(Verb.SWAP_IMAGE, "records-1.img"), (Verb.SWAP_IMAGE, "records-2.img")]
    assert [path.name for path in tmp_path.iterdir()] == ["records-2.img"]


@tools
def test_while_the_computer_uses_the_drive_the_image_stays(tmp_path: Path) -> None:
    show_on_cable(DOWNLOADS, images=tmp_path, gadget=tmp_path, ask=Helper())
    before = (tmp_path / "records-1.img").read_bytes()
    with pytest.raises(NotAvailableError, match="eject it there first"):
        show_on_cable({}, images=tmp_path, gadget=tmp_path, ask=Helper("eject it there first"))
    assert [path.name for path in tmp_path.iterdir()] == ["records-1.img"]
    assert (tmp_path / "records-1.img").read_bytes() == before


def test_a_board_without_a_device_port_says_so(tmp_path: Path) -> None:
    with pytest.raises(NotAvailableError, match="use a stick"):
        show_on_cable(DOWNLOADS, images=tmp_path, gadget=tmp_path / "none", ask=Helper())


def test_missing_tools_are_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(NotAvailableError, match="install dosfstools and mtools"):
        build_image(DOWNLOADS, tmp_path / "records-1.img")
    assert list(tmp_path.iterdir()) == []

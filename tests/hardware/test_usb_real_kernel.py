"""Stick and cable on the kernel's own USB stack: both ends of one cable, real vfat and exfat, real pulls.

The gadget side shows an image file as a stick on a dummy controller; the host side finds, mounts, writes and checks it
through the privileged helper on a real socket. Runs as root in a machine whose kernel has these modules.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import pytest

from core.errors import DiskFullError, NotAvailableError, ReadOnlyError
from core.records.checksums import CHECKSUMS_FILE, checksums_text, verify_folder
from hardware.gadget_setup import set_up_gadget
from hardware.helper_client import Verb, ask_helper
from hardware.privileged_helper import deeds, serve
from hardware.root_verbs import RootPlaces
from hardware.stick_files import FilePlace, find_files, new_name, read_file, write_new_file
from hardware.usb_gadget import show_on_cable
from hardware.usb_stick import HelperAccess, Step, Stick, download_to_stick, find_sticks, the_one_stick
from tests.patience import WAIT_S

GADGETS = Path("/sys/kernel/config/usb_gadget")
CONTROLLERS = Path("/sys/class/udc")
MODULES = "dummy_hcd libcomposite usb_f_mass_storage usb-storage sd_mod vfat exfat nls_cp437 nls_ascii nls_utf8"
MODULES += " nls_iso8859-1"
NAME = "20260301-140509-1a2b3c4d"
FILES = {"session.json": b"{}\n", "report.pdf": os.urandom(300_000)}
FILES[CHECKSUMS_FILE] = checksums_text(FILES).encode()


def has_usb_stack() -> bool:
    if os.geteuid() != 0 or not os.environ.get("CORNERWISE_REAL_KERNEL"):
        return False
    for module in MODULES.split():
        subprocess.run(["modprobe", module], capture_output=True, check=False)
    if not GADGETS.is_dir():
        subprocess.run(["mount", "-t", "configfs", "none", GADGETS.parent], capture_output=True, check=False)
    return GADGETS.is_dir() and CONTROLLERS.is_dir() and any(CONTROLLERS.iterdir())


pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(600),
    pytest.mark.skipif(not has_usb_stack(), reason="needs root and a kernel with dummy_hcd and mass storage gadgets"),
]


@contextmanager
def pulled_when(cable: Cable, mounted: Path, pattern: str, count: int = 1) -> Iterator[None]:
    """Pull the cable in mid-write: as soon as so many files of this pattern are there, while the block writes."""
    done = threading.Event()

    def puller() -> None:
        while not done.is_set():
            with suppress(OSError):
                if len(list(mounted.glob(pattern))) >= count:
                    cable.pull()
                    return

    thread = threading.Thread(target=puller)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def wait_for(condition: Callable[[], bool]) -> None:
    """The kernel takes its time to see a cable; polled, because nothing tells this process."""
    deadline = time.monotonic() + WAIT_S
    pause = threading.Event()
    while not condition():
        assert time.monotonic() < deadline, "the USB stack did not come that far"
        pause.wait(0.05)


class Cable:
    """A stick made of image files on the gadget side; plugging in and pulling out is what the test does to it."""

    def __init__(self, *images: Path, read_only: bool = False) -> None:
        self._gadget = GADGETS / "stick"
        self._images = images
        self._gadget.mkdir()
        (self._gadget / "idVendor").write_text("0x1d6b")
        (self._gadget / "idProduct").write_text("0x0104")
        storage = self._gadget / "functions/mass_storage.0"
        storage.mkdir()
        for number, image in enumerate(images):
            lun = storage / f"lun.{number}"
            lun.mkdir(exist_ok=True)
            (lun / "removable").write_text("1")
            (lun / "ro").write_text("1" if read_only else "0")
            (lun / "file").write_text(str(image))
        (self._gadget / "configs/c.1").mkdir()
        (self._gadget / "configs/c.1/mass_storage.0").symlink_to(storage)

    def plug(self) -> None:
        (self._gadget / "UDC").write_text(min(controller.name for controller in CONTROLLERS.iterdir()))
        wait_for(lambda: len(find_sticks()) == len(self._images))
        subprocess.run(["udevadm", "settle"], check=False)
        wait_for(lambda: all(Path("/dev", stick.partition).exists() for stick in find_sticks()))

    def pull(self) -> None:
        (self._gadget / "UDC").write_text("\n")

    def take_apart(self) -> None:
        with suppress(OSError):
            self.pull()
        wait_for(lambda: find_sticks() == ())
        (self._gadget / "configs/c.1/mass_storage.0").unlink()
        (self._gadget / "configs/c.1").rmdir()
        for number in range(1, len(self._images)):
            (self._gadget / f"functions/mass_storage.0/lun.{number}").rmdir()
        (self._gadget / "functions/mass_storage.0").rmdir()
        self._gadget.rmdir()


@pytest.fixture
def plugged() -> Iterator[Callable[..., Cable]]:
    made: list[Cable] = []

    def plug(*images: Path, read_only: bool = False) -> Cable:
        made.append(Cable(*images, read_only=read_only))
        made[-1].plug()
        return made[-1]

    yield plug
    for cable in made:
        cable.take_apart()


@pytest.fixture
def helper(tmp_path: Path) -> Iterator[Path]:
    """The privileged helper's own loop on a socket of its own; returns the socket's path."""
    places = RootPlaces(
        stick=tmp_path / "mounted",
        images=tmp_path / "images",
        gadget=GADGETS / "cornerwise",
        clock_was_set=tmp_path / "c",
    )
    places.images.mkdir()
    path = tmp_path / "helper.sock"
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)) as listener:
        listener.bind(str(path))
        listener.listen(4)
        verbs = deeds(places, owner_uid=0, owner_gid=0)
        thread = threading.Thread(target=serve, args=(listener, frozenset({0}), verbs), kwargs={"idle_s": 20.0})
        thread.start()
        yield path
        with suppress(NotAvailableError):
            ask_helper(Verb.UNMOUNT_STICK, socket_path=path)
        listener.shutdown(socket.SHUT_RDWR)
        thread.join()


def image_of(path: Path, kind: str, megabytes: int = 48) -> Path:
    with path.open("wb") as file:
        file.truncate(megabytes * 1024 * 1024)
    subprocess.run([f"mkfs.{kind}", *(["-F"] if kind == "ext4" else []), path], check=True, capture_output=True)
    return path


def on_stick(helper: Path, look: Callable[[Path], None]) -> None:
    """Mount read-only once more, as another computer would, and look."""
    access = HelperAccess(helper)
    folder = access.mount(the_one_stick(find_sticks()).partition, writable=False)
    try:
        look(folder)
    finally:
        access.unmount()


def download(helper: Path, files: dict[str, bytes] = FILES, progress: Callable[[Step], None] = lambda _: None) -> None:
    stick: Stick = the_one_stick(find_sticks())
    download_to_stick(files, NAME, stick, HelperAccess(helper), progress)


@pytest.mark.parametrize("kind", ["vfat", "exfat"])
def test_a_download_onto_a_real_stick(plugged: Callable[..., Cable], helper: Path, tmp_path: Path, kind: str) -> None:
    cable = plugged(image_of(tmp_path / "stick.img", kind))
    steps: list[Step] = []
    download(helper, progress=steps.append)
    assert steps[-1] is Step.SAFE
    cable.pull()  # at once, as the screen allows
    wait_for(lambda: find_sticks() == ())
    cable.plug()
    on_stick(helper, lambda folder: verify_folder(folder / "cornerwise" / NAME))
    checked = subprocess.run(
        [f"fsck.{kind}", "-n", tmp_path / "stick.img"], capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stdout


@pytest.mark.parametrize("kind", ["vfat", "exfat"])
@pytest.mark.parametrize("moment", [1, 3, 6])
def test_a_pull_in_mid_write_leaves_nothing_half(
    plugged: Callable[..., Cable], helper: Path, tmp_path: Path, kind: str, moment: int
) -> None:
    """Pulled when the `moment`-th file has begun; then plugged in again: no finished name, and the next try works."""
    files = {f"part-{number}.bin": os.urandom(700_000) for number in range(8)}
    files[CHECKSUMS_FILE] = checksums_text(files).encode()
    cable = plugged(image_of(tmp_path / "stick.img", kind))
    pulled = pulled_when(cable, tmp_path / "mounted", f"cornerwise/{NAME}-partial-*/*", moment)
    with pulled, pytest.raises(NotAvailableError, match="pulled out before it was finished"):
        download(helper, files)
    wait_for(lambda: find_sticks() == ())
    cable.plug()

    def nothing_half(folder: Path) -> None:
        assert not (folder / "cornerwise" / NAME).exists()

    on_stick(helper, nothing_half)
    download(helper, files)
    on_stick(helper, lambda folder: verify_folder(folder / "cornerwise" / NAME))


DESIGN = "Möbel/Rückwand größer.svg"  # a name that a kernel reading FAT as ASCII could not open


def put_design(helper: Path) -> FilePlace:
    """A person's own file on the stick, as their computer left it there."""
    place = FilePlace(stick=the_one_stick(find_sticks()), access=HelperAccess(helper))
    top = place.access.mount(place.stick.partition, writable=True)
    (top / DESIGN).parent.mkdir()
    (top / DESIGN).write_bytes(FILES["report.pdf"])
    place.access.unmount()
    return place


@pytest.mark.parametrize("kind", ["vfat", "exfat"])
def test_a_file_of_the_stick_is_found_read_and_a_copy_written_beside(
    plugged: Callable[..., Cable], helper: Path, tmp_path: Path, kind: str
) -> None:
    cable = plugged(image_of(tmp_path / "stick.img", kind))
    place, steps = put_design(helper), list[Step]()
    assert find_files(place, (".svg",)).paths == (DESIGN,)
    original = read_file(place, DESIGN)
    assert original.content == FILES["report.pdf"]
    expected = ("Möbel/Rückwand größer-corrected.svg", "Möbel/Rückwand größer-corrected-2.svg")
    for name in expected:
        path = new_name(DESIGN, "corrected")
        assert write_new_file(place, path, name.encode(), steps.append, made_from=original) == name
    assert steps[-1] is Step.SAFE
    cable.pull()  # at once, as the screen allows
    wait_for(lambda: find_sticks() == ())
    cable.plug()
    kept = {path: read_file(place, path).content for path in find_files(place, (".svg",)).paths}
    assert kept == {DESIGN: original.content, **{name: name.encode() for name in expected}}
    checked = subprocess.run(
        [f"fsck.{kind}", "-n", tmp_path / "stick.img"], capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stdout


@pytest.mark.parametrize("kind", ["vfat", "exfat"])
def test_a_pull_while_the_copy_is_written_leaves_the_original_and_nothing_half(
    plugged: Callable[..., Cable], helper: Path, tmp_path: Path, kind: str
) -> None:
    cable = plugged(image_of(tmp_path / "stick.img", kind))
    place = put_design(helper)
    content = os.urandom(6_000_000)
    pulled = pulled_when(cable, tmp_path / "mounted", "copy.svg-partial-*")
    with pulled, pytest.raises(NotAvailableError, match="pulled out before it was finished"):
        write_new_file(place, "copy.svg", content, lambda _: None)
    wait_for(lambda: find_sticks() == ())
    cable.plug()
    assert find_files(place, (".svg",)).paths == (DESIGN,)
    assert read_file(place, DESIGN).content == FILES["report.pdf"]
    assert write_new_file(place, "copy.svg", content, lambda _: None) == "copy.svg"


def test_a_full_stick(plugged: Callable[..., Cable], helper: Path, tmp_path: Path) -> None:
    plugged(image_of(tmp_path / "stick.img", "vfat", megabytes=2))
    with pytest.raises(DiskFullError, match="is full"):
        download(helper)
    on_stick(helper, lambda folder: verify_nothing(folder))


def eject(drive: Path) -> None:
    """What `eject` does: the SCSI command to unload (CDROMEJECT of linux/cdrom.h)."""
    handle = os.open(drive, os.O_RDONLY | os.O_NONBLOCK)
    try:
        fcntl.ioctl(handle, 0x5309)
    finally:
        os.close(handle)


def verify_nothing(folder: Path) -> None:
    assert list(folder.iterdir()) == []


def test_a_write_protected_stick(plugged: Callable[..., Cable], helper: Path, tmp_path: Path) -> None:
    plugged(image_of(tmp_path / "stick.img", "vfat"), read_only=True)
    with pytest.raises(ReadOnlyError, match="write-protected"):
        download(helper)


def test_a_foreign_and_a_corrupt_stick(plugged: Callable[..., Cable], helper: Path, tmp_path: Path) -> None:
    image = image_of(tmp_path / "stick.img", "ext4")
    cable = plugged(image)
    with pytest.raises(NotAvailableError, match="ext4; format it as FAT32 or exFAT"):
        download(helper)
    cable.pull()
    wait_for(lambda: find_sticks() == ())
    image_of(image, "vfat")
    content = bytearray(image.read_bytes())
    content[:512] = os.urandom(512)
    image.write_bytes(content)
    cable.plug()
    with pytest.raises(NotAvailableError):
        download(helper)


def test_two_sticks(plugged: Callable[..., Cable], helper: Path, tmp_path: Path) -> None:
    plugged(image_of(tmp_path / "a.img", "vfat"), image_of(tmp_path / "b.img", "vfat"))
    with pytest.raises(NotAvailableError, match="2 sticks are plugged in"):
        download(helper)


def test_the_cable_shows_a_read_only_drive_and_changes_it_only_after_an_eject(helper: Path, tmp_path: Path) -> None:
    """Host against gadget: mounted by the host it cannot be changed; ejected it can, and the host sees the new one."""
    gadget = GADGETS / "cornerwise"
    images, mounted = tmp_path / "images", tmp_path / "host"
    mounted.mkdir()

    def ask(verb: Verb, *words: str) -> str:
        return ask_helper(verb, *words, socket_path=helper)

    assert set_up_gadget(gadget, CONTROLLERS)
    try:
        show_on_cable({"first": FILES}, images=images, gadget=gadget, ask=ask)
        wait_for(lambda: len(find_sticks()) == 1)
        stick = the_one_stick(find_sticks())
        assert stick.write_protected
        subprocess.run(["mount", "-o", "ro", f"/dev/{stick.partition}", mounted], check=True)
        verify_folder(mounted / "cornerwise" / "first")
        with pytest.raises(NotAvailableError, match="eject it there first"):
            show_on_cable({"first": FILES, "second": FILES}, images=images, gadget=gadget, ask=ask)
        verify_folder(mounted / "cornerwise" / "first")
        subprocess.run(["umount", mounted], check=True)
        eject(Path("/dev", stick.partition))
        show_on_cable({"first": FILES, "second": FILES}, images=images, gadget=gadget, ask=ask)
        wait_for(lambda: len(find_sticks()) == 1)
        subprocess.run(["mount", "-o", "ro", f"/dev/{the_one_stick(find_sticks()).partition}", mounted], check=True)
        verify_folder(mounted / "cornerwise" / "second")
    finally:
        subprocess.run(["umount", mounted], capture_output=True, check=False)
        (gadget / "UDC").write_text("\n")
        shutil.rmtree(images)

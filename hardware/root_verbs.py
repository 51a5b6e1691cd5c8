"""What the helper's verbs do; runs as root. Each raises RefusedError with a sentence for the person, or answers a text.

Stage: hardware. Input: words already checked by helper_client. Output: mounts, the USB image, the clock, power.
The places are values of RootPlaces so that tests run the same code on folders of their own.
"""

import errno
import os
import stat
import subprocess
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct

from core.errors import CornerwiseError
from core.said import Name, Number, Said, said
from hardware.releases import PROGRAM

FILE_SYSTEMS = {"vfat", "exfat"}  # what every computer reads, and what has no owners or programs to smuggle in
GADGET_LUN = "functions/mass_storage.usb0/lun.0"


class RefusedError(CornerwiseError):
    """The verb cannot be done; the sentence says why and what would help."""


class RootPlaces(Struct, frozen=True, kw_only=True):
    """Where things are on the installed machine."""

    stick: Path = Path("/run/cornerwise-stick")
    images: Path = Path("/var/lib/cornerwise/usb-images")
    gadget: Path = Path("/sys/kernel/config/usb_gadget/cornerwise")
    block_devices: Path = Path("/sys/class/block")
    clock_was_set: Path = Path("/run/cornerwise-clock-was-set")
    program: Path = PROGRAM
    update_stick: Path = Path("/run/cornerwise-update-stick")
    etc: Path = Path("/etc")
    update_keys: Path = Path("/etc/cornerwise/update-keys")


def run_tool(command: Sequence[str], *, timeout_s: float = 100.0, env: Mapping[str, str] | None = None) -> str:
    """Run a system tool; its output, or RefusedError with its own last words."""
    tool = Name(Path(command[0]).name)
    try:
        done = subprocess.run(
            command, capture_output=True, encoding="utf-8", errors="replace", timeout=timeout_s, env=env, check=False
        )
    except subprocess.TimeoutExpired as error:
        limit = Number(round(timeout_s), sign="s")
        raise RefusedError(said("{command} did not end within {limit}", command=tool, limit=limit)) from error
    except OSError as error:
        why = Name(error.strerror or str(error))
        raise RefusedError(said("{command} could not be run: {why}", command=tool, why=why)) from error
    if done.returncode != 0:
        raise RefusedError(
            (done.stderr or done.stdout).strip()
            or said("{command} failed with {returncode}", command=tool, returncode=done.returncode)
        )
    return done.stdout.strip()


def mount_stick(places: RootPlaces, partition: str, access: str, *, owner_uid: int, owner_gid: int) -> str:
    """Mount a partition of a USB stick for the program's own user; answers the folder."""
    if places.stick.is_mount():
        raise RefusedError(said("a stick is mounted already; unmount it first"))
    options = f"{access},nosuid,nodev,noexec,uid={owner_uid},gid={owner_gid},umask=0077"
    _mount(places, partition, places.stick, options)
    return str(places.stick)


def unmount_stick(places: RootPlaces) -> Said:
    """Write out what is pending and unmount; a stick that was pulled is let go as well."""
    if not places.stick.is_mount():
        return said("no stick was mounted")
    _unmount(places.stick)
    return said("unmounted")


@contextmanager
def stick_of_root(places: RootPlaces, partition: str) -> Iterator[Path]:
    """The stick for reading by root alone, in a folder of its own, for as long as the block lasts."""
    if places.update_stick.is_mount():
        _unmount(places.update_stick)  # left by a helper that was stopped
    _mount(places, partition, places.update_stick, "ro,nosuid,nodev,noexec,uid=0,gid=0,umask=0077")
    try:
        yield places.update_stick
    finally:
        _unmount(places.update_stick)


def _mount(places: RootPlaces, partition: str, folder: Path, options: str) -> None:
    device = Path("/dev") / partition
    if "/usb" not in os.path.realpath(places.block_devices / partition) or not device.is_block_device():
        raise RefusedError(said("{partition} is not a USB stick that is plugged in", partition=Name(partition)))
    file_system = run_tool(["blkid", "-p", "-o", "value", "-s", "TYPE", str(device)])
    if file_system not in FILE_SYSTEMS:
        raise RefusedError(
            said(
                "the stick has the file system {file_system}; format it as FAT32 or exFAT",
                file_system=Name(file_system),
            )
        )
    folder.mkdir(mode=0o755, exist_ok=True)
    if file_system == "vfat":
        # Some kernels read FAT names as ASCII otherwise: a file whose name has an umlaut could not be opened.
        options += ",utf8"
    run_tool(["mount", "-t", file_system, "-o", options, str(device), str(folder)])


def _unmount(folder: Path) -> None:
    try:
        run_tool(["umount", str(folder)])
    except RefusedError as error:
        if "busy" in str(error):
            raise
        run_tool(["umount", "--lazy", str(folder)])


def swap_image(places: RootPlaces, name: str) -> str:
    """Show another disk image on the USB cable, read-only; `none` shows an empty drive. Never writes to an image."""
    lun = places.gadget / GADGET_LUN
    if not lun.is_dir():
        raise RefusedError(said("this board shows no USB drive on its cable (see `cornerwise doctor`)"))
    if name == "none":
        _write_lun(lun, "")
        return ""
    image = places.images / name
    try:
        held = os.open(image, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except OSError as error:
        raise RefusedError(said("there is no image {name}", name=Name(name))) from error
    try:
        if not stat.S_ISREG(os.fstat(held).st_mode):
            raise RefusedError(said("{name} is no image file", name=Name(name)))
        # By descriptor: what was looked at is what is shown, whatever the folder's owner does meanwhile.
        _write_lun(lun, f"/proc/self/fd/{held}")
    finally:
        os.close(held)
    return str(image)


def _write_lun(lun: Path, image: str) -> None:
    try:
        (lun / "file").write_text(image + "\n", encoding="utf-8")
    except OSError as error:
        if error.errno == errno.EBUSY:
            raise RefusedError(said("the computer is using the drive; eject it there first")) from error
        raise RefusedError(said("the drive could not be changed: {why}", why=Name(error.strerror or ""))) from error


def _set_system_time(seconds: float) -> None:
    time.clock_settime(time.CLOCK_REALTIME, seconds)


def set_clock(places: RootPlaces, when: str, *, set_time: Callable[[float], None] = _set_system_time) -> str:
    """Set the system clock, and the hardware clock where there is one; remembers until power-off that it was set."""
    try:
        moment = datetime.strptime(when, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError as error:
        raise RefusedError(said("{when} is no date and time", when=Name(when))) from error
    try:
        set_time(moment.timestamp())
    except OSError as error:
        raise RefusedError(said("the clock cannot be set: {why}", why=Name(error.strerror or ""))) from error
    places.clock_was_set.touch()
    if Path("/dev/rtc0").exists():
        run_tool(["hwclock", "--systohc", "--utc"])
    return when


def power_off(_: RootPlaces) -> Said:
    """Begin an orderly power-off."""
    run_tool(["systemctl", "--no-block", "poweroff"])
    return said("powering off")

"""One line of `cornerwise doctor`: what was looked at, how it stands, and what to do about it.

Stage: hardware. The checks themselves are in checkup_screen, checkup_board, checkup_ports, checkup_storage and
checkup_updates; each takes the root folder of the machine to look at, so that tests show them machines made of plain
files.
"""

import os
from enum import StrEnum
from pathlib import Path

from msgspec import Struct

from core.said import NOTHING, Name, Part

# Makes a machine the instrument, and puts there once more what is missing of it.
INSTALL = Name("sudo apt install --reinstall ./cornerwise_*.deb")


class Standing(StrEnum):
    """How a thing stands; the value is the JSON text."""

    OK = "ok"
    ABSENT = "absent"  # not there, and the bench works without it
    NOT_OK = "not ok"


class Check(Struct, frozen=True, kw_only=True):
    """One thing looked at; `to_do` is empty where nothing needs doing."""

    name: str
    standing: Standing
    says: Part
    to_do: Part = NOTHING


def fine(name: str, says: Part, to_do: Part = NOTHING) -> Check:
    """It is as it should be; what to do would make it better."""
    return Check(name=name, standing=Standing.OK, says=says, to_do=to_do)


def absent(name: str, says: Part, to_do: Part = NOTHING) -> Check:
    """It is not there, and the bench works without it; what to do would bring it."""
    return Check(name=name, standing=Standing.ABSENT, says=says, to_do=to_do)


def wrong(name: str, says: Part, to_do: Part) -> Check:
    """Whatever is wrong says what to do."""
    return Check(name=name, standing=Standing.NOT_OK, says=says, to_do=to_do)


def read_text(path: Path) -> str:
    """A small file's text without surrounding blanks; empty where it cannot be read."""
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip("\0\n ")
    except OSError:
        return ""


def may_use(path: Path) -> bool:
    """Whether this user may read and write a device."""
    return os.access(path, os.R_OK | os.W_OK)


def its_user_may(path: Path) -> bool:
    """Whether owner, group and mode would let this user read and write a device: if so, the sandbox refuses it."""
    try:
        at = path.stat()
    except OSError:
        return False
    if os.geteuid() in (0, at.st_uid):
        return True
    groups = {os.getegid(), *os.getgroups()}
    return at.st_mode & 0o006 == 0o006 or (at.st_gid in groups and at.st_mode & 0o060 == 0o060)


def is_instrument(root: Path) -> bool:
    """Whether the package made this machine an instrument of its own."""
    return (root / "opt/cornerwise/current").is_symlink()


def repair(root: Path) -> Name:
    """The command that brings back what is missing of the program: an instrument's own, or that of a checkout."""
    return INSTALL if is_instrument(root) else Name("sh hardware/setup.sh")


def board_model(root: Path) -> str:
    """The board's own name, such as 'Raspberry Pi 4 Model B Rev 1.4'; empty on a PC."""
    return read_text(root / "proc/device-tree/model")

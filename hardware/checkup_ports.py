"""The checks of the instruments' sockets: serial ports, who may use them and who holds them.

Stage: hardware. Source: proc(5), and udev's links under /dev/serial.
"""

import os
from pathlib import Path

from core.said import Name, said
from hardware.checkup import INSTALL, Check, absent, fine, its_user_may, may_use, read_text, wrong

PORTS = ("ttyUSB*", "ttyACM*")


def holders(root: Path, device: Path) -> list[str]:
    """Programs that have the device open, as 'name (pid)'; only those this user may look at."""
    found = []
    for process in sorted((root / "proc").glob("[0-9]*")):
        try:
            open_files = [str(link.readlink()) for link in (process / "fd").iterdir()]
        except OSError:
            continue  # ended meanwhile, or another user's
        if str(device) in open_files:
            found.append(f"{read_text(process / 'comm')} ({process.name})")
    return found


def stable_name(root: Path, device: Path) -> str:
    """The name under by-id that stays with the adapter, by-path where two share one; empty where udev gave none."""
    for folder in ("by-id", "by-path"):
        for link in sorted((root / "dev/serial" / folder).glob("*")):
            if link.resolve() == device.resolve():
                return link.name
    return ""


def check_ports(root: Path) -> list[Check]:
    """One line a port, or one that says that there is none."""
    devices = sorted(device for pattern in PORTS for device in (root / "dev").glob(pattern))
    if not devices:
        says = said("no USB serial port")
        return [absent("ports", says, said("plug in an instrument's cable"))]
    return [_check_port(root, device) for device in devices]


def _check_port(root: Path, device: Path) -> Check:
    name = f"port {device.name}"
    stable = stable_name(root, device)
    called = Name(stable) if stable else said("no stable name")
    if not may_use(device) and its_user_may(device):
        says = said("{called}: the bench's service is not let at it, though its user might open it", called=called)
        return wrong(name, says, Name("sudo systemctl restart cornerwise"))
    if not may_use(device):
        to_do = said("sudo usermod -aG dialout $USER, then log in again")
        return wrong(name, said("{called}: this user may not open it", called=called), to_do)
    others = [holder for holder in holders(root, device) if not holder.endswith(f"({os.getpid()})")]
    if any(holder.startswith("ModemManager") for holder in others):
        to_do = said("{command} (its udev rule keeps modem probing off)", command=INSTALL)
        return wrong(name, said("{called}: probed as a modem", called=called), to_do)
    if others:
        says = said("{called}, held by {others}", called=called, others=Name(", ".join(others)))
        return fine(name, says)
    return fine(name, said("{called}, free", called=called))

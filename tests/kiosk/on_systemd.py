"""The installed units as they stand under a real systemd: process 1 of namespaces of its own, on the real console.

Whatever systemd does to the bench it does here: terminal, user, sandbox, device rules, watchdog, restarts. What differs
from a board: the release's libraries are those that run the test, and the drop-in below. Needs root, a panel without a
desktop, a console and the system's own Python in the version that runs the tests.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = Path("/opt/cornerwise")
BENCH = "import sys; from ui.command_line.cli import main; sys.exit(main())"
SERVICE, TRIAL, SOCKET = "cornerwise.service", "cornerwise-trial.service", "cornerwise-helper.socket"
SENDER, WATCHER = "cornerwise-shop.service", "cornerwise-shop.path"
UNITS = (
    SERVICE,
    TRIAL,
    SOCKET,
    "cornerwise-helper.service",
    "cornerwise-gadget.service",
    SENDER,
    WATCHER,
)
# Debian's own: what the units above lean on.
SYSTEM_UNITS = ("modprobe@.service",)
# An emulated processor is ten times slower than a board, and draws without graphics of its own; no journal runs here.
_NO_JOURNAL = """[Service]
StandardOutput=inherit
StandardError=inherit
Environment=PYTHONDONTWRITEBYTECODE=1
"""
DROP_INS = {
    SERVICE: f"{_NO_JOURNAL}TimeoutStartSec=600\nWatchdogSec=120\nEnvironment=GALLIUM_DRIVER=softpipe\n",
    SENDER: _NO_JOURNAL,
}
# The groups and the user of the package, on an /etc that is forgotten afterwards; this machine's modules and devices.
INSIDE = """set -e
mount --make-rprivate /
mkdir -p /mnt; mount -n -t tmpfs t /mnt; mkdir /mnt/udev /mnt/over /mnt/under
if [ -d /run/udev ]; then mount -n --bind /run/udev /mnt/udev; fi
mount -n -t overlay o -o lowerdir=/etc,upperdir=/mnt/over,workdir=/mnt/under /etc
for folder in /opt /var/lib /var/cache /var/tmp; do mount -n -t tmpfs t $folder; done
mount -n --move /mnt /run
mkdir /opt/cornerwise; mount -n --bind {program} /opt/cornerwise
if [ -f {program}/update-keys ]; then mkdir -p /etc/cornerwise; cp {program}/update-keys /etc/cornerwise/; fi
for group in video render input dialout gpio; do getent group $group >/dev/null || groupadd --system $group; done
getent passwd cornerwise >/dev/null || useradd --system --user-group --no-create-home cornerwise
usermod -a -G video,render,input,dialout,gpio cornerwise
export container=unshare SYSTEMD_UNIT_PATH={units} SYSTEMD_LOG_TARGET=null
exec /lib/systemd/systemd --system --unit=here.target --show-status=0
"""
SPACES = ("unshare", "--pid", "--fork", "--kill-child", "--mount", "--mount-proc", "--cgroup", "--uts", "--ipc")
# Ends a hang; nothing that is timed here is a figure.
PATIENCE_S = 900.0


def why_not() -> str:
    """What this machine lacks; empty where the units can run."""
    if os.geteuid() != 0:
        return "needs root"
    if not os.environ.get("CORNERWISE_REAL_KERNEL"):
        return "needs a machine made for it (CORNERWISE_REAL_KERNEL=1)"
    if not Path("/lib/systemd/systemd").exists() or not Path("/dev/tty1").exists():
        return "needs systemd and a console"
    if not any(Path("/dev/dri").glob("card*")):
        return "needs a panel without a desktop"
    said = subprocess.run(["/usr/bin/python3", "--version"], capture_output=True, text=True, check=False).stdout.split()
    here = "{}.{}".format(*sys.version_info)
    return "" if said and said[-1].startswith(f"{here}.") else f"needs the system's Python to be {here}"


def make_release(program: Path, name: str, code: str) -> None:
    """An environment of the system's Python over this checkout and the libraries that run this test."""
    release = program / "releases" / name
    subprocess.run(["/usr/bin/python3", "-m", "venv", "--without-pip", release], check=True)
    (packages,) = release.glob("lib/python*/site-packages")
    libraries = next(path for path in sys.path if path.endswith("site-packages"))
    (packages / "here.pth").write_text(f"{ROOT}\n{libraries}\n")
    script = release / "bin" / "cornerwise"
    script.write_text(f"#!{PROGRAM}/releases/{name}/bin/python\n{code}\n")
    script.chmod(0o755)
    (release / "complete").touch()


class Installed:
    """A machine with Cornerwise installed: releases by name with what each one runs, the first of them current."""

    def __init__(self, folder: Path, releases: Mapping[str, str]) -> None:
        folder.chmod(0o755)
        self.program, units = folder / "program", folder / "units"
        for name, code in releases.items():
            make_release(self.program, name, code)
        (self.program / "current").symlink_to(PROGRAM / "releases" / next(iter(releases)))
        (self.program / "guard").mkdir()
        shutil.copy(ROOT / "hardware" / "releases.py", self.program / "guard")
        units.mkdir(parents=True)
        for unit in UNITS:
            shutil.copy(ROOT / "hardware" / "systemd" / unit, units)
        for unit in SYSTEM_UNITS:
            shutil.copy(Path("/lib/systemd/system") / unit, units)
        for unit, text in DROP_INS.items():
            (units / f"{unit}.d").mkdir()
            (units / f"{unit}.d" / "here.conf").write_text(text)
        for target in ("sysinit", "basic", "shutdown", "multi-user", "sockets", "here"):
            (units / f"{target}.target").write_text("[Unit]\nDefaultDependencies=no\n")
        inside = INSIDE.format(program=self.program, units=units)
        self._spaces = subprocess.Popen([*SPACES, "sh", "-c", inside])
        self._first = 0
        self.until("systemd", lambda: self.systemctl("is-active", "here.target") == "active")

    def end(self) -> None:
        """Pull the plug."""
        self._spaces.kill()
        self._spaces.wait()

    def run(self, *command: str) -> str:
        """A command of root's inside; what it says, whatever its status."""
        if not self._first:
            children = Path(f"/proc/{self._spaces.pid}/task/{self._spaces.pid}/children").read_text().split()
            self._first = int(children[0]) if children else 0
        spaces = ["nsenter", "--target", str(self._first), "--all", "--root", "--wd"]
        done = subprocess.run([*spaces, *command], capture_output=True, text=True, check=False)
        return (done.stdout + done.stderr).strip()

    def systemctl(self, *words: str) -> str:
        """What systemd answers."""
        return self.run("systemctl", *words)

    def shown(self, unit: str = SERVICE) -> dict[str, str]:
        """All that systemd knows of a unit."""
        return dict(line.split("=", 1) for line in self.systemctl("show", unit).splitlines() if "=" in line)

    def place(self, path: str) -> Path:
        """A place inside, as it is reached from here."""
        return Path(f"/proc/{self._first}/root{path}")

    def change(self) -> dict[str, Any]:
        """What became of the last change of release: update.json."""
        with suppress(FileNotFoundError):
            kept: dict[str, Any] = json.loads((self.program / "update.json").read_text())
            return kept
        return {}

    def story(self) -> str:
        """How the units stand; what they say goes where the test's own output goes."""
        return self.systemctl("status", "--no-pager", "--full", "--lines=0", SERVICE, TRIAL)

    def until(self, what: str, holds: Callable[[], bool]) -> None:
        """Wait until it is so."""
        patience_until = time.monotonic() + PATIENCE_S
        while not holds():
            assert self._spaces.poll() is None, f"{what}: systemd ended"
            assert time.monotonic() < patience_until, f"{what} did not come\n{self.story()}"
            time.sleep(0.3)

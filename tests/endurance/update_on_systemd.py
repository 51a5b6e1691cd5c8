"""A version without a first screen is taken back by systemd: `python tests/endurance/update_on_systemd.py`, as root.

systemd runs as process 1 of namespaces of its own with the units as they are installed, on the machine's own console
and panel (tests/kiosk/on_systemd.py); so it wants a machine made for it, CORNERWISE_REAL_KERNEL=1. The helper, in its
sandbox and at its socket, installs an update that was copied from a stick. Prints a line a step.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from hardware.helper_client import Verb, ask_helper  # noqa: E402
from hardware.releases import current_release  # noqa: E402
from tests.hardware.update_bits import SYSTEM, make_archive, make_key, make_wheel, trust  # noqa: E402
from tests.kiosk.on_systemd import BENCH, DROP_IN, PROGRAM, SERVICE, SOCKET, Installed, why_not  # noqa: E402

RELEASES = {
    "0.1.0-1": BENCH,
    # It loads, and breaks where the first screen is drawn.
    "0.2.0-2": f"import ui.pages.home; ui.pages.home.home_page = None; {BENCH}",
    "0.3.0-3": "import time; time.sleep(1000)",
    # Its first screen comes up and does not stay: what a hung-up terminal did to every release.
    "0.3.1-3": "import os, signal, socket, time; manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM); "
    "manager.sendto(b'READY=1', os.environ['NOTIFY_SOCKET']); time.sleep(3); os.kill(os.getpid(), signal.SIGHUP)",
    "0.4.0-4": BENCH,
}
# What the helper installs: a wheel that calls itself so and is this checkout's bench.
LATEST = "0.5.0"
WHEEL = """
import sys
def main():
    if sys.argv[1:] == ["--self-check"]:
        print("cornerwise", {version!r})
    else:
        from ui.command_line.cli import main as bench
        sys.exit(bench())
"""
# A start that hangs is waited for less long than on an emulated processor that draws.
HANGS = DROP_IN.replace("TimeoutStartSec=600", "TimeoutStartSec=240")


def lay_update(folder: Path, program: Path) -> None:
    """A signed update where the helper lays what it copied from a stick, and the key that is trusted."""
    key = make_key(folder, "maker")
    trust(key, program / "update-keys")
    wheel = make_wheel(folder / "wheels", LATEST, program=WHEEL)
    incoming = program / "incoming"
    incoming.mkdir(mode=0o700)
    make_archive(incoming / "update", key, [wheel], version=LATEST)
    (program / "system-digest").write_text(SYSTEM + "\n")


def become(machine: Installed, release: str, what: str, *, restart: bool = True) -> None:
    """(Re)start the bench and wait until this release has proven itself, or runs again where it was proven before."""
    if restart:
        machine.systemctl("restart", "--no-block", SERVICE)
    machine.until(
        what,
        lambda: (
            current_release(machine.program) == release
            and machine.shown()["ActiveState"] == "active"
            and machine.change().get("told", True)
        ),
    )
    print(f"{what}; running {release}, NRestarts={machine.shown()['NRestarts']}", flush=True)


def drive(machine: Installed) -> None:
    """Switch from release to release as the helper does, and look what systemd makes of it."""
    become(machine, "0.1.0-1", "the bench is drawn, systemd knows it")
    broken = {
        "0.2.0-2": "breaks at its first screen",
        "0.3.0-3": "hangs before it",
        "0.3.1-3": "does not stay behind it",
    }
    for release, why in broken.items():
        put_on_trial(machine, release)
        become(machine, "0.1.0-1", f"{release} {why}: 0.1.0 is back")
        change = machine.change()
        assert (change["phase"], change["goes_to"], change["starts"]) == ("taken-back", release, 3), change
    put_on_trial(machine, "0.4.0-4")
    become(machine, "0.4.0-4", "0.4.0 draws its first screen and stays")
    assert (machine.change()["phase"], machine.change()["starts"]) == ("runs", 1), machine.change()
    machine.systemctl("kill", "--signal=KILL", SERVICE)
    become(machine, "0.4.0-4", "killed afterwards, it is started again and not taken back", restart=False)
    machine.systemctl("start", SOCKET)
    helper = machine.place("/run/cornerwise-helper.sock")
    said = ask_helper(
        Verb.INSTALL_UPDATE, LATEST, socket_path=helper, progress=lambda text: print(f"  {text}", flush=True)
    )
    print(said)
    installed = current_release(machine.program)
    assert installed.startswith(f"{LATEST}-"), installed
    become(machine, installed, "the helper installed an update and had it started", restart=False)
    assert (machine.change()["phase"], machine.change()["came_from"]) == ("runs", "0.4.0-4"), machine.change()
    print(ask_helper(Verb.GO_BACK, socket_path=helper))
    become(machine, "0.4.0-4", "and went back", restart=False)
    print("all as it should be")


def put_on_trial(machine: Installed, release: str) -> None:
    """As the helper switches: inside, where the links lead to."""
    begin = f"from releases import PROGRAM, begin_trial; begin_trial(PROGRAM, {release!r})"
    machine.run("/usr/bin/python3", "-c", f"import sys; sys.path.insert(0, '{PROGRAM}/guard'); {begin}")


def main() -> int:
    """Lay everything out, let systemd run it, and drive it."""
    if reason := why_not():
        print(f"update_on_systemd: {reason}", file=sys.stderr)
        return 69
    with tempfile.TemporaryDirectory(prefix="cornerwise-systemd-") as name:
        folder = Path(name)
        (folder / "program").mkdir()
        lay_update(folder, folder / "program")
        machine = Installed(folder, RELEASES, drop_in=HANGS)
        try:
            drive(machine)
        finally:
            print(machine.story())
            machine.end()
    return 0


if __name__ == "__main__":
    sys.exit(main())

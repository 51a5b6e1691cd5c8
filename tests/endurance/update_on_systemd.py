"""A version without a first screen is taken back by systemd: `python tests/endurance/update_on_systemd.py`, as root.

systemd runs as process 1 of namespaces of its own, with the installed units as they stand but for what is not here (a
panel, a console, the bench's user for the bench itself). The real bench draws into memory; its first frame is what
proves a release. The helper, in its sandbox and at its socket, installs an update that was copied from a stick. Prints
a line a step; about two minutes.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from hardware.helper_client import Verb, ask_helper  # noqa: E402
from hardware.releases import PROGRAM, begin_trial, current_release, read_change  # noqa: E402
from tests.hardware.update_bits import SYSTEM, make_archive, make_key, make_wheel, trust  # noqa: E402

BENCH = "import sys; from ui.command_line.cli import main; sys.exit(main())"
RELEASES = {
    "0.1.0-1": BENCH,
    # It loads, and breaks where the first screen is drawn.
    "0.2.0-2": f"import ui.pages.home; ui.pages.home.home_page = None; {BENCH}",
    "0.3.0-3": "import time; time.sleep(1000)",
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
UNIT, HELPER = "cornerwise.service", ("cornerwise-helper.socket", "cornerwise-helper.service")
# What is not here; a start that hangs is waited for less long, everything else is the unit's own.
DROP_IN = """[Service]
TimeoutStartSec=20
User=root
Group=root
SupplementaryGroups=
ProtectHome=no
PrivateTmp=no
StandardInput=null
StandardOutput=inherit
StandardError=inherit
TTYPath=
TTYReset=no
TTYVHangup=no
TTYVTDisallocate=no
DevicePolicy=auto
Environment=SDL_VIDEODRIVER=offscreen
"""
DRIVER = """[Unit]
DefaultDependencies=no
[Service]
StandardOutput=inherit
StandardError=inherit
ExecStart={command}
"""
INSIDE = """set -e
mount --make-rprivate /
for folder in /run /opt /var/lib /var/cache; do mount -t tmpfs t $folder; done
mkdir /opt/cornerwise; mount --bind {program} /opt/cornerwise
mkdir /run/over /run/under; mount -t overlay o -o lowerdir=/etc,upperdir=/run/over,workdir=/run/under /etc
mkdir /etc/cornerwise; cp {keys} /etc/cornerwise/update-keys
echo cornerwise:x:990:990::/:/usr/sbin/nologin >>/etc/passwd; echo cornerwise:x:990: >>/etc/group
export container=unshare SYSTEMD_UNIT_PATH={units}
exec /lib/systemd/systemd --system --unit=driver.service --log-target=null --show-status=0
"""
WAIT_S = 240.0


def make_release(program: Path, name: str, code: str) -> None:
    """An environment of its own over this checkout and the libraries that run this script."""
    release = program / "releases" / name
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", release], check=True)
    (packages,) = release.glob("lib/python*/site-packages")
    libraries = next(path for path in sys.path if path.endswith("site-packages"))
    (packages / "here.pth").write_text(f"{ROOT}\n{libraries}\n")
    script = release / "bin" / "cornerwise"
    script.write_text(f"#!{PROGRAM}/releases/{name}/bin/python\n{code}\n")
    script.chmod(0o755)
    (release / "complete").touch()


def outside() -> int:
    """Lay everything out, then let systemd run it."""
    with TemporaryDirectory(prefix="cornerwise-systemd-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        program, units = folder / "program", folder / "units"
        for release, code in RELEASES.items():
            make_release(program, release, code)
        (program / "current").symlink_to(PROGRAM / "releases" / "0.1.0-1")
        (program / "guard").mkdir()
        shutil.copy(ROOT / "hardware" / "releases.py", program / "guard")
        (units / f"{UNIT}.d").mkdir(parents=True)
        shutil.copy(ROOT / "hardware" / "systemd" / UNIT, units)
        (units / f"{UNIT}.d" / "here.conf").write_text(DROP_IN)
        for unit in HELPER:
            shutil.copy(ROOT / "hardware" / "systemd" / unit, units)
        keys = lay_update(folder, program)
        for target in ("sysinit", "basic", "shutdown", "multi-user", "sockets"):
            (units / f"{target}.target").write_text("[Unit]\nDefaultDependencies=no\n")
        log = folder / "log"
        command = f"/bin/sh -c '{sys.executable} {Path(__file__).resolve()} --drive >{log} 2>&1; echo end >>{log}'"
        (units / "driver.service").write_text(DRIVER.format(command=command))
        inside = INSIDE.format(program=program, units=units, keys=keys)
        spaces = ["unshare", "--pid", "--fork", "--kill-child", "--mount", "--mount-proc", "--cgroup", "--net", "--uts"]
        with subprocess.Popen([*spaces, "sh", "-c", inside]) as namespaces:
            said = follow(log)
            namespaces.kill()
    return 0 if said.rstrip().endswith("all as it should be\nend") else 1


def lay_update(folder: Path, program: Path) -> Path:
    """A signed update where the helper lays what it copied from a stick; the file of the keys that are trusted."""
    key, keys = make_key(folder, "maker"), folder / "update-keys"
    trust(key, keys)
    wheel = make_wheel(folder / "wheels", LATEST, program=WHEEL)
    incoming = program / "incoming"
    incoming.mkdir(mode=0o700)
    make_archive(incoming / "update", key, [wheel], version=LATEST)
    (program / "system-digest").write_text(SYSTEM + "\n")
    return keys


def follow(log: Path) -> str:
    """Print what the driver says until it ends; what it said."""
    said, until = "", time.monotonic() + WAIT_S
    while not said.endswith("end\n") and time.monotonic() < until:
        time.sleep(0.5)
        now = log.read_text() if log.exists() else ""
        print(now[len(said) :].removesuffix("end\n"), end="", flush=True)
        said = now
    return said


def drive() -> None:
    """Inside: switch from release to release as the helper does, and look what systemd makes of it."""
    start("0.1.0-1", "the bench is drawn, systemd knows it")
    for broken, why in (("0.2.0-2", "breaks at its first screen"), ("0.3.0-3", "hangs before it")):
        begin_trial(PROGRAM, broken)
        start("0.1.0-1", f"{broken} {why}: 0.1.0 is back")
        change = read_change(PROGRAM)
        assert change is not None
        assert (change.phase, change.goes_to, change.starts, change.told) == ("taken-back", broken, 3, True), change
    begin_trial(PROGRAM, "0.4.0-4")
    start("0.4.0-4", "0.4.0 draws its first screen and stays")
    change = read_change(PROGRAM)
    assert change is not None
    assert (change.phase, change.starts) == ("runs", 1), change
    systemctl("kill", "--signal=KILL", UNIT)
    start("0.4.0-4", "killed afterwards, it is started again and not taken back", restart=False)
    systemctl("start", HELPER[0])
    print(ask_helper(Verb.INSTALL_UPDATE, LATEST, progress=lambda text: print(f"  {text}", flush=True)))
    installed = current_release(PROGRAM)
    assert installed.startswith(f"{LATEST}-"), installed
    start(installed, "the helper installed an update and had it started", restart=False)
    change = read_change(PROGRAM)
    assert change is not None
    assert (change.phase, change.came_from) == ("runs", "0.4.0-4"), change
    print(ask_helper(Verb.GO_BACK))
    start("0.4.0-4", "and went back", restart=False)
    print("all as it should be")


def start(release: str, what: str, *, restart: bool = True) -> None:
    """(Re)start the bench and wait until this release is ready; raises where that never comes."""
    if restart:
        systemctl("restart", "--no-block", UNIT)
    begun = time.monotonic()
    time.sleep(2.0)
    while current_release(PROGRAM) != release or systemctl("is-active", UNIT) != "active":
        if time.monotonic() - begun > 120.0:
            raise AssertionError(f"{what}: {systemctl('status', '--no-pager', UNIT)}")
        time.sleep(0.5)
    print(f"{what}; running {release}, {systemctl('show', '--property=NRestarts', UNIT)}", flush=True)


def systemctl(*words: str) -> str:
    """What it says, whatever its status."""
    return subprocess.run(["systemctl", *words], capture_output=True, text=True, check=False).stdout.strip()


if __name__ == "__main__":
    sys.exit(drive() if "--drive" in sys.argv else outside())

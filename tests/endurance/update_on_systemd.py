"""A release on trial is kept when it is good and taken back when it is not, by the systemd of an installed machine:

    cd CHECKOUT; sudo /opt/cornerwise/current/bin/python tests/endurance/update_on_systemd.py \
        --this-machine-is-for-trials PARTITION [STEP ...]

The steps are good, stick, breaks, hangs, ends; all of them where none is named.
Units, user, sandbox, console and panel are those that the package put there; the releases are copies of the installed
one, of which some are broken. Then the helper, at its socket and in its sandbox, installs a signed update from the
stick whose partition (sda1) is named: it is formatted; the update is built there, with the package index. Changed for
the time of the proof are one limit, so that a start that hangs is waited for less long, and whose updates are trusted.
Afterwards the installed release is current again. Prints a line a step; a few minutes each on an emulated board, the
stick and the hanging one most.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from core.said import Part  # noqa: E402
from core.said_wire import of_line  # noqa: E402
from hardware.helper_client import Verb, ask_helper  # noqa: E402
from hardware.make_update import build_wheel, manifest_of, signature_of, system_digest, write_archive  # noqa: E402
from hardware.releases import PROGRAM, begin_trial, current_release, version_of  # noqa: E402
from hardware.root_verbs import RootPlaces  # noqa: E402
from tests.endurance.whole_update import LATER, later_checkout  # noqa: E402
from tests.hardware.update_bits import make_key, trust  # noqa: E402

SERVICE, TRIAL = "cornerwise.service", "cornerwise-trial.service"
BENCH = "import sys; from ui.command_line.entry import main; sys.exit(main())"
# By what they do.
BROKEN = {
    # It loads, and does so where the first screen is drawn.
    "breaks": f"import ui.pages.theme; ui.pages.theme.scale_for = None; {BENCH}",
    # Before it.
    "hangs": "import time; time.sleep(100000)",
    # Soon behind it, as a hung-up terminal did to every release.
    "ends": "import os, signal, socket, time; "
    "manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM); "
    "manager.sendto(b'READY=1', os.environ['NOTIFY_SOCKET']); time.sleep(3); os.kill(os.getpid(), signal.SIGHUP)",
}
STEPS = ("good", "stick", *BROKEN)
STARTS = 3
ACTIVE_SINCE, ENDED = "ActiveEnterTimestampMonotonic", "ExecMainExitTimestampMonotonic"
# Long enough for a first screen where an emulated processor draws it.
DROP_IN = Path("/run/systemd/system/cornerwise.service.d/zz-trial.conf")
LIMIT = "[Service]\nTimeoutStartSec=150\n"
PATIENCE_S = 1500.0
KEYS = RootPlaces().update_keys


def systemctl(*words: str) -> str:
    """What systemd says."""
    return subprocess.run(["systemctl", *words], capture_output=True, text=True, check=False).stdout.strip()


def shown(unit: str, *properties: str) -> dict[str, str]:
    """These properties of a unit."""
    lines = systemctl("show", unit, f"--property={','.join(properties)}").splitlines()
    return dict(line.split("=", 1) for line in lines)


def change() -> Mapping[str, object]:
    """What became of the last change of release: update.json."""
    file = PROGRAM / "update.json"
    kept: dict[str, object] = json.loads(file.read_text()) if file.exists() else {}
    return kept


def lay(release: str, code: str, *, like: str) -> None:
    """A whole release that runs this; its libraries are links to those of the other."""
    folder = PROGRAM / "releases" / release
    subprocess.run(["cp", "-al", PROGRAM / "releases" / like, folder], check=True)
    script = folder / "bin" / "cornerwise"
    script.unlink()
    script.write_text(f"#!{folder}/bin/python\n{code}\n")
    script.chmod(0o755)


def until(what: str, holds: Callable[[], bool]) -> None:
    """Wait until it is so."""
    until_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until_s, f"{what} did not come: {change()}\n{systemctl('status', SERVICE, TRIAL)}"
        time.sleep(2.0)  # each look costs a slow board as much as a second of it


def proven(release: str) -> bool:
    """It runs, its first screen has stayed, and what became of the change is known."""
    unit = shown(TRIAL, "Result", ENDED, "ActiveState")
    bench = shown(SERVICE, "ActiveState", ACTIVE_SINCE)
    if current_release(PROGRAM) != release or bench["ActiveState"] != "active" or unit["ActiveState"] != "inactive":
        return False
    return unit["Result"] == "success" and int(unit[ENDED] or 0) > int(bench[ACTIVE_SINCE] or 0)


def put_on_trial(release: str) -> None:
    """As the helper does it: switch, then start anew."""
    begin_trial(PROGRAM, release)
    systemctl("restart", "--no-block", SERVICE)


def write_stick(partition: str, folder: Path) -> None:
    """Format it, and write a signed update onto it: this checkout under a later version. Its maker is trusted."""
    key = make_key(folder, "maker")
    trust(key, KEYS)
    checkout = later_checkout(folder / "checkout")
    wheel = build_wheel(checkout, folder)
    machine, python = platform.machine(), "{}.{}".format(*sys.version_info)
    manifest = manifest_of(LATER, system_digest(checkout), [wheel], pythons=[python], machines=[machine])
    subprocess.run(["mkfs.vfat", "-I", "-n", "UPDATE", f"/dev/{partition}"], check=True, stdout=subprocess.DEVNULL)
    stick = folder / "stick"
    stick.mkdir()
    subprocess.run(["mount", f"/dev/{partition}", stick], check=True)
    try:
        write_archive(stick / f"cornerwise-{LATER}.update", manifest, signature_of(manifest, key), [wheel])
    finally:
        subprocess.run(["umount", stick], check=True)


def say(text: Part) -> None:
    """How far the helper is."""
    print(f"  {text}", flush=True)


def from_a_stick(partition: str, here: str) -> None:
    """Over this release, by the helper; and back."""
    with TemporaryDirectory() as folder:
        write_stick(partition, Path(folder))
    found = ask_helper(Verb.LOOK_FOR_UPDATE, partition, progress=say)
    assert found == LATER, found
    print(
        f"the helper on the stick: {found}; {of_line(ask_helper(Verb.INSTALL_UPDATE, LATER, progress=say))}", flush=True
    )
    updated = current_release(PROGRAM)
    assert version_of(updated) == LATER, updated
    until("the update", lambda: proven(updated))
    kept = change()
    assert (kept["phase"], kept["came_from"], kept["starts"]) == ("runs", here, 1), kept
    print(f"{updated}: kept at its first start, its own helper answers", flush=True)
    print(f"the helper at its socket: {of_line(ask_helper(Verb.GO_BACK))}", flush=True)
    until("the one before", lambda: proven(here))
    print(f"and went back: {here} runs and stays", flush=True)


def kept_when_good(installed: str) -> None:
    """A copy of the installed release, put on trial and kept, also when it is killed later."""
    good = f"{version_of(installed)}-9"
    lay(good, BENCH, like=installed)
    put_on_trial(good)
    until("the good one", lambda: proven(good))
    kept = change()
    assert (kept["phase"], kept["starts"]) == ("runs", 1), kept
    print("a good one: kept at its first start", flush=True)
    systemctl("kill", "--signal=KILL", SERVICE)
    until("its next start", lambda: int(shown(SERVICE, "NRestarts")["NRestarts"]) > 0)
    until("the good one again", lambda: proven(good))
    assert change()["phase"] == "runs", change()
    print("killed afterwards: started again, and not taken back", flush=True)


def taken_back(why: str, before: str) -> None:
    """A broken release, put on trial and taken back."""
    release = f"{version_of(before)}-{list(BROKEN).index(why) + 1}"
    lay(release, BROKEN[why], like=before)
    put_on_trial(release)
    until("the release before", lambda: proven(before))
    kept = change()
    assert (kept["phase"], kept["goes_to"], kept["starts"]) == ("taken-back", release, STARTS), kept
    print(f"a release that {why}: started {STARTS} times, {before} is back and stays", flush=True)


def drive(installed: str, partition: str, steps: Sequence[str]) -> None:
    """Switch from release to release, and look what systemd makes of it."""
    for step in steps:
        if step == "good":
            kept_when_good(installed)
        elif step == "stick":
            from_a_stick(partition, current_release(PROGRAM))
        else:
            taken_back(step, current_release(PROGRAM))
    put_on_trial(installed)
    until("the installed one", lambda: proven(installed))
    print(f"{installed} runs and stays", flush=True)


def main() -> int:
    """Drive it, and leave the installed release behind."""
    agreed, partition, *steps = sys.argv[1:] if len(sys.argv) > 2 else ("", "")
    mine = agreed == "--this-machine-is-for-trials" and set(steps) <= set(STEPS)
    if not mine or os.geteuid() != 0 or not (PROGRAM / "current").exists():
        print((__doc__ or "").strip(), file=sys.stderr)
        return 64
    installed = current_release(PROGRAM)
    before = {path.name for path in (PROGRAM / "releases").iterdir()}
    DROP_IN.parent.mkdir(parents=True, exist_ok=True)
    DROP_IN.write_text(LIMIT)
    trusted = KEYS.read_bytes() if KEYS.exists() else None
    systemctl("daemon-reload")
    try:
        drive(installed, partition, steps or STEPS)
    finally:
        KEYS.unlink(missing_ok=True) if trusted is None else KEYS.write_bytes(trusted)
        DROP_IN.unlink()
        systemctl("daemon-reload")
        for path in (PROGRAM / "releases").iterdir():
            if path.name not in before and path.name != current_release(PROGRAM):
                shutil.rmtree(path)
    print("all as it should be")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The checks of the installed service: what systemd says of it, and the devices as the running bench sees them.

Stage: hardware. Input: `systemctl show`, and what the unit leaves behind when the bench ends. Source: systemd.exec(5)
on $SERVICE_RESULT, $EXIT_CODE and $EXIT_STATUS; systemd.resource-control(5): device rules belong to the control
group, so that whoever stands in it is let at the same devices.
"""

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from core.said import Name, Said, said
from core.said_wire import unpacked
from hardware.checkup import INSTALL, Check, Standing, absent, fine, read_text, wrong

UNIT, SENDER = "cornerwise.service", "cornerwise-shop.service"
_SHOWN = ("LoadState", "ActiveState", "NRestarts", "ActiveEnterTimestamp", "MainPID", "ControlGroup")
_RESULTS = {
    "watchdog": said("screen or bench hung, and the watchdog ended it"),
    "timeout": said("no first screen came in time"),
    "oom-kill": said("the memory ran out"),
}
_TO_DO = Name("sudo journalctl -b -u cornerwise")
INSIDE_TIMEOUT_S = 120.0


def read_service(unit: str = UNIT) -> dict[str, str]:
    """What systemd says of the service, by the names of `systemctl show`; empty where it is not installed."""
    command = ["systemctl", "show", unit, f"--property={','.join(_SHOWN)}"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=20, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return {}
    shown = dict(line.split("=", 1) for line in done.stdout.splitlines() if "=" in line)
    return shown if shown.get("LoadState") == "loaded" else {}


def check_service(root: Path, shown: Mapping[str, str]) -> Check:
    """Whether the bench runs by itself, and stays."""
    name = "service"
    if not shown:
        says = said("not installed: the bench runs while somebody has started it")
        return absent(name, says, INSTALL)
    state, again = shown.get("ActiveState", ""), int(shown.get("NRestarts") or 0)
    since = shown.get("ActiveEnterTimestamp", "")
    if state == "active" and not again:
        return fine(name, said("up since {since}", since=Name(since)))
    if state in ("inactive", "failed"):
        says = said("does not run; {how}", how=how_it_ended(root))
        return wrong(name, says, Name("sudo systemctl start cornerwise"))
    if again:
        says = said(
            "ended by itself and was started again, times: {again}; {how}",
            again=again,
            how=how_it_ended(root),
        )
        return wrong(name, says, _TO_DO)
    says = said("is starting; its first screen has not come yet")
    return wrong(name, says, said("wait a minute and look again"))


def check_sender(data: Path, shown: Mapping[str, str]) -> list[Check]:
    """Whether a bench that has joined a shop sends; nothing where it has not, or where no service of ours would.

    Its server may be away: the service waits for that, and runs.
    """
    if not shown or not read_text(data / "shop.json"):
        return []
    if shown.get("ActiveState") == "active":
        return [fine("shop", said("the sending service runs"))]
    says = said("this bench has joined a shop, but the sending service does not run: its records stay here")
    to_do = Name("sudo journalctl -b -u cornerwise-shop")
    return [wrong("shop", says, to_do)]


def how_it_ended(root: Path) -> Said:
    """How the bench ended last, in words; the unit leaves it in `last-end`."""
    words = read_text(root / "var/lib/cornerwise/last-end").split()
    if len(words) != 3:
        return said("how it ended is not known")
    result, code, status = words
    if result in _RESULTS:
        return said("last time {how}", how=_RESULTS[result])
    if code == "exited":
        return said("last time it ended with status {status}", status=Name(status))
    return said("last time it ended by signal {signal}", signal=Name(status))


def checks_from_inside(
    shown: Mapping[str, str], *, cgroups: Path = Path("/sys/fs/cgroup"), processes: Path = Path("/proc")
) -> list[Check]:
    """The devices as the running bench is let at them: its user, its groups, its device rules. Needs root.

    Empty where the bench does not run, or this is not root.
    """
    become = _as_the_process(processes / shown.get("MainPID", "0"))
    if not become or not shown.get("ControlGroup"):
        return []
    members = cgroups / shown["ControlGroup"].lstrip("/") / "cgroup.procs"
    look = [sys.executable, "-I", "-m", "hardware.checkup_devices"]
    command = ["/bin/sh", "-c", 'echo $$ >"$0" && exec "$@"', str(members), *become, *look]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=INSIDE_TIMEOUT_S, check=False, cwd="/")
        return read_checks(json.loads(done.stdout))
    except (OSError, ValueError, KeyError, TypeError, subprocess.TimeoutExpired):
        return []


def _as_the_process(process: Path) -> list[str]:
    """The command to become what this process is; empty where there is none. Source: proc(5), /proc/PID/status.

    Its own groups: those of /etc/group are what a bench started anew would have, and the unit gives more.
    """
    lines = (line.partition(":") for line in read_text(process / "status").splitlines())
    has = {name: value.split() for name, _, value in lines if name in ("Uid", "Gid", "Groups")}
    if not has.get("Uid") or not has.get("Gid"):
        return []
    groups = f"--groups={','.join(has['Groups'])}" if has.get("Groups") else "--clear-groups"
    return ["setpriv", f"--reuid={has['Uid'][0]}", f"--regid={has['Gid'][0]}", groups, "--bounding-set=-all"]


def read_checks(items: Sequence[Mapping[str, object]]) -> list[Check]:
    """Checks from their JSON."""
    return [
        Check(
            name=str(item["name"]),
            standing=Standing(str(item["standing"])),
            says=unpacked(item["says"]),
            to_do=unpacked(item["to_do"]),
        )
        for item in items
    ]

"""Which release of the program runs, and whether a new one proves itself: the links, the trial, the way back.

Stage: hardware. Input: the folder of the installed program. Output: its links switched, and `update.json` beside them.
A new release is on trial until its first screen was drawn and stayed: systemd runs `before-start` ahead of every start
and `first-screen` some time behind READY=1 (cornerwise-trial.service). After STARTS starts that never came so far the
release before is taken back. A release brings units of its own: one whose unit does not even load is counted by
`at-boot`, which cornerwise-guard.service runs, and no release brings that.

The package puts this file outside of every release, to be run by the system's own Python: what takes a release
back may not be part of it. So it imports the standard library only. Whatever moment the power is cut at,
`before-start` brings links and state together again; the order of the writes is explained where they are made.
"""

import json
import os
import socket
import subprocess
import sys
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

PROGRAM = Path("/opt/cornerwise")
# Two of them may be lost to the power switch while the screen is still dark; common practice.
STARTS = 3
HELPER = Path("/run/cornerwise-helper.sock")
# Python itself takes some seconds to start on a slow card.
HELPER_S = 60.0


class Phase(StrEnum):
    """How far a change of release has come."""

    TRIAL = "trial"  # switched to, or about to be; its first screen has not been seen
    RUNS = "runs"  # its first screen was drawn
    TAKEN_BACK = "taken-back"  # it never drew one
    NOT_SWITCHED = "not-switched"  # the power was cut before it was switched to


class Change(NamedTuple):
    """The last change of release, by the names of their folders; `told` once a screen has said what became of it."""

    phase: Phase
    came_from: str
    goes_to: str
    starts: int = 0
    boots: int = 0
    told: bool = False


def version_of(release: str) -> str:
    """The version in a release folder's name (`0.2.0-31ba77`)."""
    return release.rpartition("-")[0] or release


def newer(version: str, than: str) -> bool:
    """Whether one version comes after another: number by number."""
    return [*map(int, version.split("."))] > [*map(int, than.split("."))]


def current_release(program: Path) -> str:
    """The folder name of the release that is started; empty where nothing is installed."""
    return _linked(program / "current")


def previous_release(program: Path) -> str:
    """The folder name of the whole release to go back to; empty where there is none."""
    name = _linked(program / "previous")
    return name if name != current_release(program) and is_whole(program, name) else ""


def is_whole(program: Path, release: str) -> bool:
    """Whether a release was made to its end: `complete` is written last."""
    return bool(release) and (program / "releases" / release / "complete").is_file()


def read_change(program: Path) -> Change | None:
    """The last change of release; None where there was none, or what is kept of it cannot be read."""
    try:
        kept = json.loads((program / "update.json").read_text(encoding="utf-8"))
        return Change(**{**kept, "phase": Phase(kept["phase"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def begin_trial(program: Path, release: str) -> None:
    """Switch to a whole release, on trial. The trial is on the disk before the link: never the link alone."""
    _write_change(program, Change(phase=Phase.TRIAL, came_from=current_release(program), goes_to=release))
    _switch(program, release)


def before_start(program: Path) -> None:
    """Count a start of a release on trial; take the one before back when it had its chances."""
    change = read_change(program)
    if change is None:
        return
    here = current_release(program)
    if change.phase is Phase.TRIAL and here != change.goes_to:
        _write_change(program, change._replace(phase=Phase.NOT_SWITCHED))
    elif change.phase is Phase.TRIAL and change.starts < STARTS:
        _write_change(program, change._replace(starts=change.starts + 1))
    elif change.phase is Phase.TRIAL and is_whole(program, change.came_from):
        # Said before it is done: cut off in between, the branch below does it at the next start.
        _write_change(program, change._replace(phase=Phase.TAKEN_BACK))
        _take_back(program, change.came_from)
    elif change.phase is Phase.TAKEN_BACK and not change.told and here == change.goes_to:
        _take_back(program, change.came_from)


def at_boot(program: Path) -> None:
    """Count a boot with a release on trial; take the one before back when its starts were not even counted."""
    change = read_change(program)
    if change is None or change.phase is not Phase.TRIAL or current_release(program) != change.goes_to:
        return
    if change.boots < STARTS or not is_whole(program, change.came_from):
        _write_change(program, change._replace(boots=change.boots + 1))
    else:
        _write_change(program, change._replace(phase=Phase.TAKEN_BACK))
        _take_back(program, change.came_from)


def first_screen(program: Path) -> None:
    """A first screen was drawn: a release on trial is proven, and what became of one has been said on it."""
    change = read_change(program)
    if change is None or change.told:
        return
    proven = change.phase is Phase.TRIAL and current_release(program) == change.goes_to
    _write_change(program, change._replace(phase=Phase.RUNS if proven else change.phase, told=True))


def _linked(link: Path) -> str:
    try:
        return link.readlink().name
    except OSError:
        return ""


def _switch(program: Path, release: str) -> None:
    """`previous` first, so that there is always a way back; each link is replaced in one step."""
    before = current_release(program)
    if before and before != release:
        _put_link(program / "previous", program / "releases" / before)
    _put_link(program / "current", program / "releases" / release)


def _take_back(program: Path, release: str) -> None:
    """`previous` is left where it is, at this very release: one that did not start is nothing to go back to."""
    _put_link(program / "current", program / "releases" / release)


def _put_link(link: Path, target: Path) -> None:
    fresh = link.with_name(f"{link.name}.new")
    fresh.unlink(missing_ok=True)
    fresh.symlink_to(target)
    fresh.replace(link)
    _sync(link.parent)


def _write_change(program: Path, change: Change) -> None:
    fresh = program / "update.json.new"
    with fresh.open("w", encoding="utf-8") as file:
        json.dump(change._asdict(), file)
        file.flush()
        os.fsync(file.fileno())
    fresh.chmod(0o644)
    fresh.replace(program / "update.json")
    _sync(program)


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def helper_answers(version: str, path: Path = HELPER) -> bool:
    """Whether the helper of this very version is there: without it no stick is mounted and nothing is powered off."""
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(HELPER_S)
            connection.connect(str(path))
            connection.sendall(b"are-you-there\n")
            connection.shutdown(socket.SHUT_WR)
            answer = connection.recv(256).decode("ascii", "replace").split()
    except OSError:
        return False
    return answer[:1] == ["ok"] and answer[-1:] == [version]


def for_the_log(change: Change) -> str:
    """What became of a change of release, for whoever reads the log of a bench whose screen is dark."""
    match change.phase:
        case Phase.TRIAL:
            return f"{change.goes_to} is on trial, start {change.starts} of {STARTS}"
        case Phase.RUNS:
            return f"{change.goes_to} is kept: its first screen came up and stayed"
        case Phase.TAKEN_BACK if not change.told:
            return (
                f"{change.goes_to} is taken back, no first screen stayed in {STARTS} starts: back to {change.came_from}"
            )
        case Phase.TAKEN_BACK:
            return f"{change.came_from} runs again and its first screen stayed"
        case Phase.NOT_SWITCHED:
            return f"{change.goes_to} was never switched to, the power was cut before"


def main(argv: list[str]) -> int:
    """`at-boot`, `before-start` or `first-screen`, as systemd asks; 64 for anything else."""
    steps = {"at-boot": at_boot, "before-start": before_start, "first-screen": first_screen}
    if len(argv) != 1 or argv[0] not in steps:
        print(f"releases: one of {', '.join(steps)}", file=sys.stderr)
        return 64
    change = read_change(PROGRAM)
    on_trial = change is not None and change.phase is Phase.TRIAL
    if argv[0] == "first-screen" and on_trial and not helper_answers(version_of(current_release(PROGRAM))):
        print("releases: a first screen, but no helper of this release: it stays on trial", file=sys.stderr)
        return 69
    steps[argv[0]](PROGRAM)
    after = read_change(PROGRAM)
    if after is not None and after != change and (line := for_the_log(after)):
        print(f"releases: {line}", flush=True)
    if after is not None and after.phase is Phase.TAKEN_BACK and not after.told:
        # Its units and rules are those of the release before again.
        for command in (["systemctl", "daemon-reload"], ["udevadm", "control", "--reload"]):
            subprocess.run(command, check=False)
        if argv[0] == "at-boot":
            subprocess.run(["systemctl", "--no-block", "restart", "cornerwise.service"], check=False)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

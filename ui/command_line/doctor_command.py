"""`cornerwise doctor`: what of the machine works, what does not, and what to do about it.

Input: the machine. Output: a line a check, or JSON; status 0 when nothing is wrong, 69 when something is.
"""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import asdict
from pathlib import Path

from core import SOFTWARE
from hardware.checkup import Check, Standing
from hardware.checkup_board import (
    check_board,
    check_clock,
    check_gadget,
    check_helper,
    check_power,
    check_watchdog,
)
from hardware.checkup_devices import check_devices
from hardware.checkup_screen import check_fonts
from hardware.checkup_service import check_service, checks_from_inside, read_service
from hardware.checkup_storage import check_disk
from hardware.checkup_updates import check_updates
from ui.command_line.data_folder import data_folder
from ui.terminal.exit_status import ExitStatus

_SEEN_OUTSIDE = "whoever asks; display, touch, ports and pins may look otherwise to the bench"
_LOOK_INSIDE = "sudo cornerwise doctor looks as the running bench does"
_MARK = {Standing.OK: "ok", Standing.ABSENT: "-", Standing.NOT_OK: "NOT OK"}


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `doctor` with its options."""
    parser = subparsers.add_parser(
        "doctor",
        help="what of this machine works, what does not, what to do",
        description="Looks at service, display, touch, ports, GPIO, fonts, disk, clock, USB cable, power, watchdog and "
        "updates. Ends with 0 when nothing is wrong, 69 when something is.",
    )
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument("--data", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="where records are kept")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Look at everything and say it."""
    checks = examine(Path("/"), data_folder(args.data, simulated=False))
    print(as_json(checks) if args.json else args.speech.lines(as_text(checks)))
    return ExitStatus.OK if is_well(checks) else ExitStatus.NOT_AVAILABLE


def examine(root: Path, data: Path) -> list[Check]:
    """Every check, on the machine whose root folder this is."""
    shown = read_service()
    devices = checks_from_inside(shown) if os.geteuid() == 0 else []
    if devices:
        seen = Check(name="seen by", standing=Standing.OK, says="the running bench, from inside its sandbox")
    else:
        seen = Check(name="seen by", standing=Standing.ABSENT, says=_SEEN_OUTSIDE, to_do=_LOOK_INSIDE if shown else "")
        devices = check_devices(root, os.environ)
    return [
        check_board(root),
        check_service(root, shown),
        seen,
        *devices,
        check_fonts(),
        check_disk(data),
        check_clock(root),
        check_gadget(root),
        check_power(),
        check_watchdog(root),
        check_helper(),
        check_updates(root),
    ]


def is_well(checks: list[Check]) -> bool:
    """True when nothing is wrong; what is absent and can be done without is not wrong."""
    return all(check.standing is not Standing.NOT_OK for check in checks)


def as_text(checks: list[Check]) -> str:
    """One line a check, with what to do below where there is something."""
    name_width = max(len(check.name) for check in checks)
    lines = []
    for check in checks:
        begin = f"{_MARK[check.standing]:<6}  {check.name:<{name_width}}  "
        lines.append(f"{begin}{check.says}")
        if check.to_do:
            lines.append(f"{' ' * len(begin)}to do: {check.to_do}")
    wrong = [check.name for check in checks if check.standing is Standing.NOT_OK]
    lines.append(f"\nNot ok: {', '.join(wrong)}." if wrong else "\nNothing is wrong.")
    return "\n".join(lines)


def as_json(checks: list[Check]) -> str:
    """The same for programs: `ok`, `software` and `checks[] {name, standing, says, to_do}`."""
    document = {"ok": is_well(checks), "software": SOFTWARE, "checks": [asdict(check) for check in checks]}
    return json.dumps(document, indent=2, ensure_ascii=False)

"""`cornerwise doctor`: what of the machine works, what does not, and what to do about it.

Input: the machine. Output: a line a check, or JSON; status 0 when nothing is wrong, 69 when something is.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hardware.checkup import Check, Standing
from hardware.doctor import as_json, examine, is_well
from ui.command_line.data_folder import data_folder
from ui.terminal.exit_status import ExitStatus

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

"""`cornerwise doctor`: what of the machine works, what does not, and what to do about it.

Input: the machine. Output: a line a check, or JSON; status 0 when nothing is wrong, 69 when something is.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from core.said import NOTHING, Column, Name, Part, Series, said
from hardware import Check, Standing, as_json, examine, is_well
from ui.command_line.data_folder import data_folder, instrument_records
from ui.terminal import ExitStatus

_MARK: dict[Standing, Part] = {Standing.OK: said("ok"), Standing.ABSENT: Name("-"), Standing.NOT_OK: said("NOT OK")}
_CALLED = {
    "board": said("board"),
    "clock": said("clock"),
    "disk": said("disk"),
    "display": said("display"),
    "fonts": said("fonts"),
    "helper": said("helper"),
    "ports": said("ports"),
    "power": said("power"),
    "seen by": said("seen by"),
    "service": said("service"),
    "touch": said("touch"),
    "updates": said("updates"),
    "usb cable": said("usb cable"),
    "watchdog": said("watchdog"),
}


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
    checks = examine(Path("/"), data_folder(args.data or instrument_records(), simulated=False))
    print(as_json(checks) if args.json else args.speech.lines(as_text(checks)))
    return ExitStatus.OK if is_well(checks) else ExitStatus.NOT_AVAILABLE


def as_text(checks: list[Check]) -> Series:
    """One line a check, with what to do below where there is something."""
    told: list[Part] = []
    width = 2 + max(len(check.name) for check in checks)
    for check in checks:
        begin = (Column(_MARK[check.standing], 8), Column(_called(check), width))
        told.append(Series((*begin, check.says), joint=""))
        if check.to_do:
            told.append(Series((Column(Name(""), 8 + width), said("to do: {what}", what=check.to_do)), joint=""))
    wrong = tuple(_called(check) for check in checks if check.standing is Standing.NOT_OK)
    ending = said("Not ok: {names}.", names=Series(wrong, joint=", ")) if wrong else said("Nothing is wrong.")
    return Series((*told, NOTHING, ending), joint="\n")


def _called(check: Check) -> Part:
    return _CALLED.get(check.name, Name(check.name))

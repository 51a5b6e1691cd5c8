"""Every check of this machine in one list, for `cornerwise doctor` and for the fault report.

Input: the machine. Output: checks, and the same as JSON.
"""

import json
import os
from pathlib import Path

from core import SOFTWARE
from core.said import NOTHING, said
from hardware.checkup import Check, Standing, absent, fine
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
from hardware.checkup_service import SENDER, check_sender, check_service, checks_from_inside, read_service
from hardware.checkup_shop import check_shop
from hardware.checkup_storage import check_disk
from hardware.checkup_updates import check_updates

_SEEN_OUTSIDE = said("whoever asks; display, touch, ports and pins may look otherwise to the bench")
_LOOK_INSIDE = said("sudo cornerwise doctor looks as the running bench does")


def examine(root: Path, data: Path) -> list[Check]:
    """Every check, on the machine whose root folder this is."""
    shown = read_service()
    devices = checks_from_inside(shown) if os.geteuid() == 0 else []
    if devices:
        seen = fine("seen by", said("the running bench, from inside its sandbox"))
    else:
        to_do = _LOOK_INSIDE if shown else NOTHING
        seen = absent("seen by", _SEEN_OUTSIDE, to_do)
        devices = check_devices(root, os.environ)
    return [
        check_board(root),
        check_service(root, shown),
        seen,
        *devices,
        check_fonts(root),
        check_disk(data),
        check_clock(root),
        check_gadget(root),
        check_power(),
        check_watchdog(root),
        check_helper(root=root),
        check_updates(root),
        *check_sender(data, read_service(SENDER)),
        check_shop(data),
    ]


def is_well(checks: list[Check]) -> bool:
    """True when nothing is wrong; what is absent and can be done without is not wrong."""
    return all(check.standing is not Standing.NOT_OK for check in checks)


def as_json(checks: list[Check]) -> str:
    """The same for programs: `ok`, `software` and `checks[] {name, standing, says, to_do}`, in English."""
    rows = [
        {"name": one.name, "standing": one.standing, "says": str(one.says), "to_do": str(one.to_do)} for one in checks
    ]
    return json.dumps({"ok": is_well(checks), "software": SOFTWARE, "checks": rows}, indent=2, ensure_ascii=False)

"""The checks of what the bench opens: display, touch, ports, pins, speaker; run as a program, as JSON.

Stage: hardware. As a program it is what the doctor starts in the running bench's own place (checkup_service), so that
what it says is what the bench is let at: `python -I -m hardware.checkup_devices`.
"""

import json
import os
from collections.abc import Mapping
from pathlib import Path

from core.said_wire import packed
from hardware.checkup import Check
from hardware.checkup_board import check_gpio
from hardware.checkup_ports import check_ports
from hardware.checkup_screen import check_display, check_touch
from hardware.checkup_sound import check_speaker


def check_devices(root: Path, environ: Mapping[str, str]) -> list[Check]:
    """Every device the bench opens, as this process may."""
    return [
        check_display(root, environ),
        check_touch(root, environ),
        *check_ports(root),
        check_gpio(root),
        check_speaker(root),
    ]


if __name__ == "__main__":
    told = [
        {"name": one.name, "standing": one.standing, "says": packed(one.says), "to_do": packed(one.to_do)}
        for one in check_devices(Path("/"), os.environ)
    ]
    print(json.dumps(told))

"""`cornerwise doctor`: its text, its JSON, its status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from core.said import Name
from hardware.checkup import Check, Standing
from hardware.doctor import is_well
from ui.command_line.cli import main
from ui.command_line.doctor_command import as_text

GOOD = Check(name="disk", standing=Standing.OK, says=Name("/data: 12.0 GB free"))
GONE = Check(name="gpio", standing=Standing.ABSENT, says=Name("no pins on this machine"))
BAD = Check(name="clock", standing=Standing.NOT_OK, says=Name("1970-01-01, but nobody set it"), to_do=Name("set it"))


def test_what_is_absent_is_not_wrong() -> None:
    assert is_well([GOOD, GONE])
    assert not is_well([GOOD, GONE, BAD])


def test_each_check_has_its_line_and_its_remedy() -> None:
    text = as_text([GOOD, GONE, BAD])
    assert str(text).splitlines() == [
        "ok      disk   /data: 12.0 GB free",
        "-       gpio   no pins on this machine",
        "NOT OK  clock  1970-01-01, but nobody set it",
        "               to do: set it",
        "",
        "Not ok: clock.",
    ]


def test_on_this_machine_it_names_everything_and_ends_with_its_verdict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["doctor", "--json", "--data", str(tmp_path)])
    said = json.loads(capsys.readouterr().out)
    names = [check["name"] for check in said["checks"]]
    for name in ("display", "touch", "fonts", "gpio", "disk", "clock", "usb cable", "power", "watchdog", "helper"):
        assert name in names
    assert any(name.startswith("port") for name in names)
    wrong = [check for check in said["checks"] if check["standing"] == "not ok"]
    assert said["ok"] is (not wrong)
    assert status == (69 if wrong else 0)
    assert all(check["to_do"] for check in wrong)

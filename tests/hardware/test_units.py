"""The units, settings and rules beside the program, as they are written: what they may take, and wait for.

That they make a real machine the instrument is proven outside the suite (hardware/proof.md).
"""

from __future__ import annotations

import configparser
import re
import subprocess
from pathlib import Path

from hardware.make_update import system_digest

ROOT = Path(__file__).resolve().parents[2]
UNITS = ROOT / "hardware" / "systemd"


def test_no_command_of_a_unit_takes_modules_from_the_folder_of_the_records() -> None:
    """`python -m` would look in the working directory first, which the bench may write (python(1), -I)."""
    for unit in UNITS.glob("*.service"):
        for command in re.findall(r"^Exec\w+=\S*python3? .*$", unit.read_text(), re.MULTILINE):
            assert " -I " in command, command


def test_what_takes_a_release_back_lies_outside_of_all_releases() -> None:
    guard = "/usr/bin/python3 -I /opt/cornerwise/guard/releases.py"
    # Without "-" a guard that fails would hold up the bench; without "+" it could not switch anything.
    assert f"ExecStartPre=-+{guard} before-start\n" in (UNITS / "cornerwise.service").read_text()
    assert f"ExecStart={guard} first-screen\n" in (UNITS / "cornerwise-trial.service").read_text()


def test_nothing_is_run_on_the_terminal_of_the_running_bench() -> None:
    """systemd.exec(5): TTYVHangup is done ahead of each command of a unit."""
    lines = (UNITS / "cornerwise.service").read_text().splitlines()
    assert "TTYVHangup=yes" in lines
    commands = {line.partition("=")[0] for line in lines if line.startswith("Exec")}
    assert commands == {"ExecStartPre", "ExecStart", "ExecStopPost"}


def test_what_puts_the_lamps_off_is_given_time() -> None:
    """systemd.service(5): TimeoutStopSec holds for each ExecStopPost; at 10 s a busy emulated board cut it off, lit."""
    unit = (UNITS / "cornerwise.service").read_text()
    assert "ExecStopPost=/opt/cornerwise/current/bin/python -I -m hardware.lamps_off\n" in unit
    (limit_s,) = re.findall(r"^TimeoutStopSec=(\d+)$", unit, re.MULTILINE)
    assert int(limit_s) >= 60


def test_every_kind_of_device_that_a_module_brings_is_there_before_the_bench() -> None:
    """systemd.resource-control(5): a group of devices is looked up in /proc/devices when the unit starts."""
    unit = (UNITS / "cornerwise.service").read_text()
    brought_by = {
        "char-ttyUSB": "usbserial",
        "char-ttyACM": "cdc_acm",
        "char-drm": "drm",
        "char-hidraw": "hid",
        "char-alsa": "snd",
    }
    built_in = {"char-input", "char-gpiochip", "char-ttyAMA", "char-ttyS"}
    groups = set(re.findall(r"^DeviceAllow=(char-\S+)", unit, re.MULTILINE))
    assert groups == set(brought_by) | built_in
    for order in ("Wants", "After"):
        named = " ".join(re.findall(rf"^{order}=(.*)", unit, re.MULTILINE)).split()
        assert {f"modprobe@{module}.service" for module in brought_by.values()} <= set(named)


def test_another_guard_is_another_system(tmp_path: Path) -> None:
    """What a stick cannot bring: the guard, and another place in the system. Units and rules come with a release."""
    (tmp_path / "hardware").mkdir()
    for name in ("systemd", "udev"):
        subprocess.run(["cp", "-r", ROOT / "hardware" / name, tmp_path / "hardware"], check=True)
    guard = tmp_path / "hardware" / "releases.py"
    guard.write_bytes((ROOT / "hardware" / "releases.py").read_bytes())
    before = system_digest(tmp_path)
    assert before == system_digest(ROOT)
    unit = tmp_path / "hardware/systemd/cornerwise.service"
    unit.write_text(unit.read_text() + "Nice=5\n")
    assert system_digest(tmp_path) == before
    unit = tmp_path / "hardware/systemd/cornerwise-guard.service"
    unit.write_text(unit.read_text() + "Nice=5\n")
    assert system_digest(tmp_path) != before


def test_the_log_is_rotated_and_bounded() -> None:
    """By size, whatever is said: journald.conf(5). The card that holds the records never fills up with it."""
    journal = configparser.ConfigParser()
    journal.optionxform = str  # type: ignore[assignment,method-assign]
    journal.read_string((ROOT / "hardware/systemd/journald.conf").read_text())
    megabytes = {
        name: int(journal["Journal"][name].removesuffix("M")) for name in ("SystemMaxUse", "SystemMaxFileSize")
    }
    assert 5 * megabytes["SystemMaxFileSize"] <= megabytes["SystemMaxUse"] <= 100
    assert journal["Journal"]["ForwardToSyslog"] == "no"
    for module in ("hardware", "ui", "core", "firmware_bridge"):
        written = [path for path in (ROOT / module).rglob("*.py") if "FileHandler" in path.read_text()]
        assert written == []  # no log file beside it

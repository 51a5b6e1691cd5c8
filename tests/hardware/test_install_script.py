"""hardware/install.sh as far as it runs without changing the machine: options, the order of its steps, the log's bound.

That it installs a real machine is proven outside the suite (hardware/proof.md).
"""

from __future__ import annotations

import configparser
import re
import subprocess
from pathlib import Path

import pytest

from hardware.make_update import system_digest
from tests.hardware.update_bits import make_key

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "hardware" / "install.sh"
UNITS = ROOT / "hardware" / "systemd"

pytestmark = pytest.mark.skipif(not Path("/usr/bin/apt-get").exists(), reason="the installer is for Debian's family")


def dry_run(*options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["sh", SCRIPT, "--dry-run", *options], capture_output=True, text=True, check=False)


def test_a_release_is_on_the_disk_before_it_is_called_complete() -> None:
    steps = [line.removeprefix("would run: ") for line in dry_run().stdout.splitlines()]
    complete = next(i for i, step in enumerate(steps) if step.startswith("touch ") and step.endswith("/complete"))
    assert (steps[complete - 1], steps[complete + 1]) == ("sync", "sync")
    switched = next(i for i, step in enumerate(steps) if step.startswith("mv -T "))
    assert complete < switched
    # A release that was on trial is none any more.
    assert steps[switched + 1] == "rm -f /opt/cornerwise/update.json"


def test_libraries_are_those_that_were_tested_with_their_checksums(tmp_path: Path) -> None:
    """From the network none is taken whose checksum is not listed; a folder of wheels is its owner's choice."""
    installs = [line for line in dry_run().stdout.splitlines() if " pip install " in line]
    listed, ours = installs
    (locks,) = re.findall(r"--require-hashes -r \S*(hardware/locks/\S+\.txt)$", listed)
    assert (ROOT / locks).is_file()
    assert "--no-deps --no-build-isolation" in ours
    (only,) = (line for line in dry_run("--wheels", str(tmp_path)).stdout.splitlines() if " pip install " in line)
    assert f"--no-index --find-links {tmp_path}" in only


def test_no_command_of_a_unit_takes_modules_from_the_folder_of_the_records() -> None:
    """`python -m` would look in the working directory first, which the bench may write (python(1), -I)."""
    for unit in UNITS.glob("*.service"):
        for command in re.findall(r"^Exec\w+=\S*python3? .*$", unit.read_text(), re.MULTILINE):
            assert " -I " in command, command


def test_what_takes_a_release_back_lies_outside_of_all_releases() -> None:
    assert "/hardware/releases.py /opt/cornerwise/guard/releases.py" in dry_run().stdout
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


def test_every_unit_is_installed_and_removed() -> None:
    units = {path.name for path in UNITS.glob("cornerwise*")}
    for script in ("install.sh", "uninstall.sh"):
        (listed,) = re.findall(r'^units="(.*)"$', (ROOT / "hardware" / script).read_text(), re.MULTILINE)
        assert set(listed.split()) == units, script


def test_only_a_public_key_of_the_one_kind_is_trusted(tmp_path: Path) -> None:
    key = make_key(tmp_path, "maker")
    trusted = dry_run("--update-key", str(key.with_suffix(".pub")))
    assert trusted.returncode == 0
    assert "would write: /etc/cornerwise/update-keys" in trusted.stdout
    private = dry_run("--update-key", str(key))
    assert private.returncode == 64
    assert "no public Ed25519 key" in private.stderr
    subprocess.run(["ssh-keygen", "-q", "-t", "ecdsa", "-N", "", "-f", tmp_path / "other"], check=True)
    assert dry_run("--update-key", str(tmp_path / "other.pub")).returncode == 64
    assert dry_run("--update-key").returncode == 64


def test_another_guard_is_another_system(tmp_path: Path) -> None:
    """What a stick cannot bring: the guard, and another place in the system. Units and rules come with a release."""
    (tmp_path / "hardware").mkdir()
    for name in ("systemd", "udev"):
        subprocess.run(["cp", "-r", ROOT / "hardware" / name, tmp_path / "hardware"], check=True)
    guard = tmp_path / "hardware" / "releases.py"
    guard.write_bytes((ROOT / "hardware" / "releases.py").read_bytes())
    before = system_digest(tmp_path)
    assert before == system_digest(ROOT)
    (tmp_path / "hardware" / "install.sh").write_text("# another installer\n")
    assert system_digest(tmp_path) == before
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
    assert "journald.conf.d/cornerwise.conf" in SCRIPT.read_text()
    for module in ("hardware", "ui", "core", "firmware_bridge"):
        written = [path for path in (ROOT / module).rglob("*.py") if "FileHandler" in path.read_text()]
        assert written == []  # no log file beside it

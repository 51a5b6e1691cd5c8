"""The unit as it is installed, under systemd on a real console: it stays up, and takes a cable that comes later.

Runs in a machine made for it; skipped elsewhere.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from tests.kiosk.on_systemd import BENCH, PROGRAM, SERVICE, TRIAL, Installed, why_not

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(3000),
    pytest.mark.skipif(bool(why_not()), reason=why_not() or "-"),
]
GOOD = "0.1.0-1"
GADGETS, CONTROLLERS = Path("/sys/kernel/config/usb_gadget"), Path("/sys/class/udc")


@pytest.fixture
def installed() -> Iterator[Installed]:
    with tempfile.TemporaryDirectory(prefix="cornerwise-installed-") as folder:
        machine = Installed(Path(folder), {GOOD: BENCH})
        try:
            yield machine
            print(machine.story())
        finally:
            machine.end()


def come_up(installed: Installed) -> dict[str, str]:
    """Wait until the bench is ready; what systemd knows of it then."""
    installed.until(
        "the first screen", lambda: (at := installed.shown())["ActiveState"] == "active" or at["NRestarts"] != "0"
    )
    shown = installed.shown()
    assert shown["NRestarts"] == "0", installed.story()
    return shown


def has_ended(trial: dict[str, str]) -> bool:
    """Whether the guard itself ran, behind its pause."""
    return trial["ExecMainExitTimestampMonotonic"] != "0"


def test_the_bench_stays_behind_its_first_screen(installed: Installed) -> None:
    """systemd hangs up the terminal ahead of every command of a unit that has one: systemd.exec(5), TTYVHangup."""
    installed.systemctl("start", "--no-block", SERVICE)
    began = come_up(installed)
    installed.until("the trial", lambda: has_ended(installed.shown(TRIAL)) or installed.shown()["NRestarts"] != "0")
    assert installed.shown(TRIAL)["Result"] == "success", installed.story()
    fed = "WatchdogTimestampMonotonic"
    installed.until("the watchdog's feeding", lambda: installed.shown()[fed] != began[fed])
    after = installed.shown()
    assert (after["NRestarts"], after["MainPID"], after["ActiveState"]) == ("0", began["MainPID"], "active")


@contextmanager
def serial_cable() -> Iterator[None]:
    """A USB serial adapter on this machine's own cable, plugged in: /dev/ttyACM0."""
    subprocess.run(["modprobe", "-a", "usbcore", "dummy_hcd", "libcomposite", "usb_f_acm"], check=True)
    if not GADGETS.is_dir():
        subprocess.run(["mount", "-t", "configfs", "none", GADGETS.parent], check=True)
    gadget = GADGETS / "instrument"
    function, config = gadget / "functions/acm.0", gadget / "configs/c.1"
    gadget.mkdir()
    (gadget / "idVendor").write_text("0x1d6b")
    (gadget / "idProduct").write_text("0x0104")
    function.mkdir()
    config.mkdir()
    (config / "acm.0").symlink_to(function)
    try:
        (gadget / "UDC").write_text(min(controller.name for controller in CONTROLLERS.iterdir()))
        yield
    finally:
        with suppress(OSError):
            (gadget / "UDC").write_text("\n")
        (config / "acm.0").unlink()
        for folder in (config, function, gadget):
            folder.rmdir()


def doctor_says(installed: Installed) -> dict[str, dict[str, str]]:
    """What root's doctor says inside, by the name of the check."""
    text = installed.run(f"{PROGRAM}/current/bin/cornerwise", "doctor", "--json", "--data", "/var/lib/cornerwise")
    return {check["name"]: check for check in json.loads(text)["checks"]}


def test_a_cable_that_comes_after_the_start_is_let_at_the_bench(installed: Installed) -> None:
    """Its driver's kind of device was looked up when the bench started; and doctor looks from where the bench is."""
    installed.systemctl("start", "--no-block", SERVICE)
    come_up(installed)
    before = doctor_says(installed)
    assert (before["service"]["standing"], before["seen by"]["standing"]) == ("ok", "ok"), before
    assert "ports" in before
    with serial_cable():
        installed.until("the adapter", Path("/dev/ttyACM0").exists)
        subprocess.run(["udevadm", "settle"], check=False)
        after = doctor_says(installed)
        assert after["port ttyACM0"]["standing"] == "ok", after
    installed.systemctl("kill", "--signal=HUP", SERVICE)
    installed.until("another start", lambda: installed.shown()["NRestarts"] != "0")
    service = doctor_says(installed)["service"]
    assert service["standing"] == "not ok"
    assert "by signal HUP" in service["says"]

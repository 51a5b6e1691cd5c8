"""The doctor's checks on machines made of plain files: what each says, and what it tells the person to do."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from types import SimpleNamespace

import pytest

from hardware.checkup import Check, Standing
from hardware.checkup_board import (
    check_board,
    check_clock,
    check_gadget,
    check_gpio,
    check_helper,
    check_power,
    check_watchdog,
)
from hardware.checkup_ports import check_ports
from hardware.checkup_screen import check_display, check_fonts, check_touch
from hardware.checkup_service import check_sender, check_service, checks_from_inside
from hardware.checkup_sound import check_speaker
from hardware.checkup_storage import check_disk
from hardware.checkup_updates import check_updates
from hardware.gpio_port import GpioError
from hardware.helper_client import Verb
from hardware.privileged_helper import serve
from hardware.touch_panels import Fingers, touch_panels

NO_DESKTOP: Mapping[str, str] = {}
NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path


def put(path: Path, text: str = "") -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def make_pi(root: Path) -> None:
    put(root / "proc/device-tree/model", "Raspberry Pi 4 Model B Rev 1.4\0")


def is_wrong(check: Check) -> bool:
    """Whatever is wrong says what to do."""
    return check.standing is Standing.NOT_OK and bool(check.to_do)


# Display


def test_a_panel_on_any_connector_of_any_card_counts(root: Path) -> None:
    put(root / "sys/class/drm/card0-HDMI-A-1/status", "disconnected\n")
    put(root / "sys/class/drm/card1-DSI-1/status", "connected\n")
    put(root / "sys/class/drm/card1-DSI-1/modes", "800x480\n640x480\n")
    put(root / "dev/dri/card1")
    check = check_display(root, NO_DESKTOP)
    assert check.standing is Standing.OK
    assert "card1-DSI-1 800x480" in str(check.says)


def test_nothing_connected_names_the_connectors(root: Path) -> None:
    put(root / "sys/class/drm/card0-HDMI-A-1/status", "disconnected\n")
    check = check_display(root, NO_DESKTOP)
    assert is_wrong(check)
    assert "card0-HDMI-A-1" in str(check.says)


def test_a_card_this_user_may_not_use_is_said(root: Path) -> None:
    put(root / "sys/class/drm/card0-DSI-1/status", "connected")
    check = check_display(root, NO_DESKTOP)  # there is no dev/dri/card0 to open
    assert is_wrong(check)
    assert "usermod" in str(check.to_do)


def test_a_driver_that_draws_into_nothing_is_wrong(root: Path) -> None:
    assert is_wrong(check_display(root, {"SDL_VIDEODRIVER": "offscreen"}))


def test_a_desktop_is_enough(root: Path) -> None:
    assert check_display(root, {"DISPLAY": ":0"}).standing is Standing.OK


# Touch: bitmaps as the kernel prints them


def keys(*codes: int) -> str:
    """A bitmap of keys as sysfs prints it: words of 64 bits, the highest first."""
    bits = sum(1 << code for code in codes)
    return " ".join(f"{bits >> 64 * word & (1 << 64) - 1:x}" for word in reversed(range(12)))


def put_panel(root: Path, event: str, name: str, properties: str, absolute: str, key_bits: str = "0") -> None:
    device = root / "sys/class/input" / event / "device"
    put(device / "name", name)
    put(device / "properties", properties)
    put(device / "capabilities/abs", absolute)
    put(device / "capabilities/key", key_bits)
    put(root / "dev/input" / event)


def test_only_what_reports_fingers_on_the_screen_is_a_panel(root: Path) -> None:
    # Bits 47 (slot), 53, 54 (position), 57 (tracking id); property bit 1 (direct) or 0 (pointer, a touchpad).
    put_panel(root, "event0", "panel", "2", "260800000000003")
    put_panel(root, "event1", "touchpad", "1", "260800000000003")
    put_panel(root, "event2", "keyboard", "0", "0")
    # Bits of keys: BTN_LEFT 0x110, BTN_TOOL_FINGER 0x145, BTN_TOUCH 0x14a, BTN_TOOL_PEN 0x140, BTN_TRIGGER 0x120.
    put_panel(root, "event3", "old touchpad", "1", "3", keys(0x145, 0x14A, 0x110))
    put_panel(root, "event4", "pen tablet", "1", "3", keys(0x140, 0x14A))
    put_panel(root, "event5", "joystick", "0", "3", keys(0x120))
    put_panel(root, "event6", "mouse", "0", "0", keys(0x110))
    assert [panel.name for panel in touch_panels(root)] == ["panel"]
    assert check_touch(root, NO_DESKTOP, mtdev="libmtdev.so.1").standing is Standing.OK


@pytest.mark.parametrize(
    ("properties", "code"), [("0", 0x14A), ("2", 0x14A), ("0", 0x110)], ids=["resistive", "direct", "like a mouse"]
)
def test_a_panel_of_one_finger_is_a_panel_and_needs_no_library(root: Path, properties: str, code: int) -> None:
    put_panel(root, "event0", "resistive", properties, "3", keys(code))
    (panel,) = touch_panels(root)
    assert (panel.fingers, panel.device.name) == (Fingers.ONE, "event0")
    assert check_touch(root, NO_DESKTOP, mtdev="").standing is Standing.OK


def test_a_panel_without_the_library_is_dead(root: Path) -> None:
    put_panel(root, "event0", "panel", "2", "260800000000003")
    check = check_touch(root, NO_DESKTOP, mtdev="")
    assert is_wrong(check)
    assert "libmtdev" in str(check.says)


def test_a_panel_nobody_may_read_is_said(root: Path) -> None:
    put_panel(root, "event0", "panel", "2", "260800000000003")
    (root / "dev/input/event0").unlink()
    assert is_wrong(check_touch(root, NO_DESKTOP, mtdev="libmtdev.so.1"))


def test_no_panel_is_not_wrong(root: Path) -> None:
    assert check_touch(root, NO_DESKTOP).standing is Standing.ABSENT


def test_the_font_is_there() -> None:
    assert check_fonts(Path("/")).standing is Standing.OK


# Ports


def test_no_port_is_not_wrong(root: Path) -> None:
    assert [check.standing for check in check_ports(root)] == [Standing.ABSENT]


def test_a_port_is_named_by_its_stable_name(root: Path) -> None:
    put(root / "dev/ttyUSB0")
    (root / "dev/serial/by-id").mkdir(parents=True)
    (root / "dev/serial/by-id/usb-adapter_1234-if00").symlink_to(root / "dev/ttyUSB0")
    (check,) = check_ports(root)
    assert check.standing is Standing.OK
    assert str(check.says) == "usb-adapter_1234-if00, free"


@pytest.mark.parametrize(("program", "standing"), [("minicom", Standing.OK), ("ModemManager", Standing.NOT_OK)])
def test_who_holds_a_port_is_named(root: Path, program: str, standing: Standing) -> None:
    put(root / "dev/ttyACM0")
    put(root / "proc/4711/comm", f"{program}\n")
    (root / "proc/4711/fd").mkdir()
    (root / "proc/4711/fd/3").symlink_to(root / "dev/ttyACM0")
    (check,) = check_ports(root)
    assert check.standing is standing
    assert f"{program} (4711)" in str(check.says) or "modem" in str(check.says)


@pytest.mark.skipif(os.getuid() == 0, reason="root may open everything")
def test_a_port_this_user_may_not_open_is_said(root: Path) -> None:
    put(root / "dev/ttyUSB0")
    (root / "dev/ttyUSB0").chmod(0)
    assert is_wrong(check_ports(root)[0])


def test_a_port_that_only_the_sandbox_keeps_from_the_bench_is_no_matter_of_groups(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(root / "dev/ttyUSB0")
    # A device rule of a control group refuses what the device's own mode allows.
    monkeypatch.setattr("hardware.checkup_ports.may_use", lambda _path: False)
    (check,) = check_ports(root)
    assert is_wrong(check)
    assert "restart cornerwise" in str(check.to_do)


# Board


def test_a_pc_is_no_fault(root: Path) -> None:
    assert check_board(root).standing is Standing.ABSENT
    assert check_gpio(root, load=no_library).standing is Standing.ABSENT


def no_library() -> object:
    raise GpioError("no GPIO library is installed")


def pins() -> SimpleNamespace:
    """A library that gets at its pins."""
    return SimpleNamespace(BCM=11, setmode=lambda _mode: None, gpio_function=lambda _gpio: 1)


def pins_out_of_reach() -> SimpleNamespace:
    """RPi.GPIO's own words where the registers cannot be opened (py_gpio.c, from memory)."""

    def refuse(_gpio: int) -> int:
        raise RuntimeError("No access to /dev/mem.  Try running as root!")

    return SimpleNamespace(BCM=11, setmode=lambda _mode: None, gpio_function=refuse)


def put_chip(root: Path, name: str, made_for: str) -> None:
    put(root / "sys/bus/gpio/devices" / name / "of_node/compatible", made_for)
    put(root / "dev" / name)


def test_what_calls_itself_a_pi_and_has_no_registers_has_no_pins(root: Path) -> None:
    make_pi(root)
    put_chip(root, "gpiochip0", "arm,pl061\0arm,primecell\0")
    assert check_gpio(root, load=pins).standing is Standing.ABSENT


def test_on_a_pi_a_missing_library_is_wrong(root: Path) -> None:
    make_pi(root)
    put(root / "dev/gpiomem")
    assert str(check_board(root).says) == "Raspberry Pi 4 Model B Rev 1.4"
    assert is_wrong(check_gpio(root, load=no_library))


def test_the_pins_are_told(root: Path) -> None:
    make_pi(root)
    put_chip(root, "gpiochip0", "brcm,bcm2711-gpio\0brcm,bcm2835-gpio\0")
    check = check_gpio(root, load=pins)
    assert check.standing is Standing.OK
    assert "pedal GPIO5 pin 29" in str(check.says)


def test_a_chip_that_may_be_used_is_not_enough_where_the_library_goes_by_the_registers(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A card that became an instrument where there were no pins: its unit has no rule for the registers."""
    make_pi(root)
    put_chip(root, "gpiochip0", "brcm,bcm2711-gpio\0brcm,bcm2835-gpio\0")
    put(root / "dev/gpiomem")
    monkeypatch.setattr("hardware.checkup_board.may_use", lambda path: path.name != "gpiomem")
    check = check_gpio(root, load=pins_out_of_reach)
    assert is_wrong(check)
    assert "service is not let at the pins" in str(check.says)
    assert str(check_gpio(root, load=pins_out_of_reach).to_do) == "sudo dpkg-reconfigure cornerwise"


@pytest.mark.parametrize(
    ("installed", "to_do"),
    [
        ([], "sh hardware/setup.sh"),
        (["current"], "sudo apt install --reinstall ./cornerwise_*.deb"),
    ],
    ids=["a checkout", "by the package"],
)
def test_what_is_missing_of_the_program_is_brought_by_what_brought_the_program(
    root: Path, installed: list[str], to_do: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_panel(root, "event0", "panel", "2", "260800000000003")
    program = root / "opt/cornerwise"
    (program / "releases/0.1.0-a").mkdir(parents=True)
    for name in installed:
        (program / name).symlink_to("releases/0.1.0-a")
    assert str(check_touch(root, NO_DESKTOP, mtdev="").to_do).startswith(to_do)
    monkeypatch.setattr("hardware.checkup_screen.find_spec", lambda _name: None)
    assert str(check_fonts(root).to_do) == to_do


@pytest.mark.parametrize(
    ("model", "package"), [("Raspberry Pi 4 Model B", "python3-rpi.gpio"), ("Raspberry Pi 5", "python3-rpi-lgpio")]
)
def test_a_packaged_bench_without_the_pins_library_is_told_debians(root: Path, model: str, package: str) -> None:
    put(root / "proc/device-tree/model", model)
    put(root / "dev/gpiomem")
    (root / "opt/cornerwise").mkdir(parents=True)
    (root / "opt/cornerwise/current").symlink_to("releases/0.1.0-a")
    assert str(check_gpio(root, load=no_library).to_do) == f"sudo apt install {package}"


@pytest.mark.parametrize(
    ("answer", "standing", "word"),
    [
        (None, Standing.ABSENT, "no power monitor"),
        ("throttled=0x0", Standing.OK, "good"),
        ("throttled=0x50005", Standing.NOT_OK, "under-voltage now"),
        ("throttled=0x50000", Standing.NOT_OK, "under-voltage since"),
        ("throttled=0x40004", Standing.NOT_OK, "heat now"),
        ("throttled=0x40000", Standing.NOT_OK, "heat since"),
    ],
)
def test_the_firmware_word_on_power(answer: str | None, standing: Standing, word: str) -> None:
    check = check_power(lambda: answer)
    assert (check.standing, word in str(check.says)) == (standing, True)
    assert check.to_do or standing is not Standing.NOT_OK


def test_a_watchdog_needs_its_device(root: Path) -> None:
    put(root / "sys/class/watchdog/watchdog0/identity", "Broadcom BCM2835 Watchdog timer\n")
    assert check_watchdog(root).standing is Standing.ABSENT
    put(root / "dev/watchdog0")
    assert check_watchdog(root).standing is Standing.OK


def test_a_watchdog_that_nobody_feeds_is_none(root: Path) -> None:
    """The kernel's words: Documentation/ABI/testing/sysfs-class-watchdog."""
    put(root / "dev/watchdog0")
    put(root / "sys/class/watchdog/watchdog0/state", "inactive\n")
    check = check_watchdog(root)
    assert check.standing is Standing.ABSENT
    assert "off and on once" in str(check.to_do)
    put(root / "sys/class/watchdog/watchdog0/state", "active\n")
    assert check_watchdog(root).standing is Standing.OK


def test_the_usb_cable(root: Path) -> None:
    assert check_gadget(root).standing is Standing.ABSENT
    put(root / "sys/class/udc/fe980000.usb/state", "not attached")
    assert "no drive" in str(check_gadget(root).says)
    (root / "sys/kernel/config/usb_gadget/cornerwise").mkdir(parents=True)
    assert check_gadget(root).standing is Standing.OK


def test_the_helper_answers_or_not(tmp_path: Path) -> None:
    path = tmp_path / "helper.sock"
    assert check_helper(path).standing is Standing.ABSENT
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        assert is_wrong(check_helper(path))
        listener.listen()
        verbs = {Verb.ARE_YOU_THERE: lambda say: "cornerwise 0.1.0"}
        serving = threading.Thread(
            target=serve, args=(listener, frozenset({os.getuid()}), verbs), kwargs={"idle_s": 0.5}
        )
        serving.start()
        check = check_helper(path)
        serving.join()
    assert (check.standing, str(check.says)) == (Standing.OK, "answers (cornerwise 0.1.0)")


def test_a_helper_that_is_listened_for_and_does_not_run_is_wrong(tmp_path: Path) -> None:
    """systemd accepts in its place; where it cannot be started the connection ends without a word."""
    path = tmp_path / "helper.sock"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        ending = threading.Thread(target=lambda: listener.accept()[0].close())
        ending.start()
        assert is_wrong(check_helper(path))
        ending.join()


# Service


UP = {"LoadState": "loaded", "ActiveState": "active", "NRestarts": "0", "ActiveEnterTimestamp": "Wed 08:00"}


def test_a_bench_that_stays_is_well(root: Path) -> None:
    assert check_service(root, {}).standing is Standing.ABSENT
    assert check_service(root, UP).standing is Standing.OK


@pytest.mark.parametrize(
    ("end", "word"),
    [
        ("success killed HUP", "by signal HUP"),
        ("exit-code exited 70", "with status 70"),
        ("watchdog killed ABRT", "the watchdog ended it"),
        ("timeout killed TERM", "no first screen"),
        ("", "not known"),
    ],
)
@pytest.mark.parametrize("state", ["active", "activating"])
def test_a_bench_that_keeps_ending_is_wrong_even_while_it_is_up(root: Path, state: str, end: str, word: str) -> None:
    put(root / "var/lib/cornerwise/last-end", f"{end}\n")
    check = check_service(root, {**UP, "ActiveState": state, "NRestarts": "14"})
    assert is_wrong(check)
    assert "times: 14" in str(check.says)
    assert word in str(check.says)


@pytest.mark.parametrize("state", ["activating", "inactive", "failed"])
def test_a_bench_in_a_shop_whose_sender_does_not_run_is_wrong(tmp_path: Path, state: str) -> None:
    """Between its tries systemd says activating: a service that ends at once is no service."""
    assert check_sender(tmp_path, {**UP, "ActiveState": state}) == []  # of no shop
    put(tmp_path / "shop.json", "{}")
    assert check_sender(tmp_path, {}) == []  # a bench on a desktop: whoever uses it starts it
    (check,) = check_sender(tmp_path, {**UP, "ActiveState": state})
    assert is_wrong(check)
    assert "cornerwise-shop" in str(check.to_do)
    (check,) = check_sender(tmp_path, UP)
    assert check.standing is Standing.OK


@pytest.mark.parametrize("state", ["inactive", "failed", "activating"])
def test_a_bench_that_is_not_up_is_wrong(root: Path, state: str) -> None:
    assert is_wrong(check_service(root, {**UP, "ActiveState": state}))


def test_without_a_running_bench_there_is_no_inside() -> None:
    assert checks_from_inside({}) == []
    assert checks_from_inside({"MainPID": str(os.getpid()), "ControlGroup": ""}) == []
    assert checks_from_inside({"MainPID": "0", "ControlGroup": "/here"}) == []


@pytest.mark.skipif(os.geteuid() != 0, reason="only root becomes another")
def test_inside_is_what_the_running_process_has_and_no_file_says(root: Path) -> None:
    """Groups that no user of the system has, as a unit's SupplementaryGroups gives them and /etc/group does not."""
    put(root / "proc/4711/status", "Name:\tbench\nUid:\t0\t0\t0\t0\nGid:\t0\t0\t0\t0\nGroups:\t54321 54322 \n")
    assert its_groups(root) == {54321, 54322}
    put(root / "proc/4711/status", "Name:\tbench\nUid:\t0\t0\t0\t0\nGid:\t0\t0\t0\t0\nGroups:\t \n")
    assert its_groups(root) == set()


def its_groups(root: Path) -> set[int]:
    """With which groups the look from inside runs: what it is started through writes them down."""
    command = root / "bin" / "setpriv"
    put(command, f'#!/bin/sh\nexec /usr/bin/setpriv "$1" "$2" "$3" sh -c \'id -G >{root}/groups\'\n')
    command.chmod(0o755)
    (root / "cgroup").mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("PATH", f"{command.parent}:{os.environ['PATH']}")
        checks_from_inside({"MainPID": "4711", "ControlGroup": "/"}, cgroups=root / "cgroup", processes=root / "proc")
    return {int(group) for group in (root / "groups").read_text().split()} - {0}


# Updates


def test_whose_updates_are_taken_and_what_can_be_gone_back_to(root: Path) -> None:
    assert check_updates(root).standing is Standing.ABSENT
    program = root / "opt/cornerwise"
    for name in ("0.1.0-1", "0.2.0-2"):
        put(program / "releases" / name / "complete")
    (program / "current").symlink_to(program / "releases/0.2.0-2")
    assert is_wrong(check_updates(root))
    put(program / "guard/releases.py")
    without_key = check_updates(root)
    assert (without_key.standing, str(without_key.says)) == (
        Standing.ABSENT,
        "version 0.2.0; no maker's key is trusted",
    )
    put(root / "etc/cornerwise/update-keys", 'cornerwise-update namespaces="update@cornerwise" ssh-ed25519 AAAA x\n')
    (program / "previous").symlink_to(program / "releases/0.1.0-1")
    assert str(check_updates(root).says) == "version 0.2.0, 0.1.0 before it; makers' keys trusted: 1"


# Clock


def test_a_pi_that_nobody_told_the_time_says_so(root: Path) -> None:
    make_pi(root)
    assert is_wrong(check_clock(root, NOW))


@pytest.mark.parametrize(
    ("file", "text", "setter"),
    [
        ("run/systemd/timesync/synchronized", "", "the network"),
        ("run/cornerwise-clock-was-set", "", "a person"),
        ("sys/class/rtc/rtc0/since_epoch", "1795564800\n", "the clock chip"),
    ],
)
def test_who_set_the_clock(root: Path, file: str, text: str, setter: str) -> None:
    make_pi(root)
    put(root / file, text)
    assert str(check_clock(root, NOW).says).endswith(f"set by {setter}")


def test_a_date_before_the_software_is_never_believed(root: Path) -> None:
    assert is_wrong(check_clock(root, datetime(1970, 1, 1, tzinfo=UTC)))


def test_a_clock_chip_with_a_flat_battery_is_not_believed(root: Path) -> None:
    make_pi(root)
    put(root / "sys/class/rtc/rtc0/since_epoch", "37\n")
    assert is_wrong(check_clock(root, NOW))


# Disk


def test_a_good_disk_says_how_fast(tmp_path: Path) -> None:
    ticks = count(step=0.004)
    check = check_disk(tmp_path, clock_s=lambda: next(ticks))
    assert check.standing is Standing.OK
    assert "a synced write 4.0 ms" in str(check.says)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_not_yet_made_is_judged_by_its_parent_and_not_made(tmp_path: Path) -> None:
    assert check_disk(tmp_path / "a/b").standing is Standing.OK
    assert not (tmp_path / "a").exists()


def test_a_worn_card_is_said(tmp_path: Path) -> None:
    ticks = count(step=0.9)
    check = check_disk(tmp_path, clock_s=lambda: next(ticks))
    assert is_wrong(check)
    assert "card" in str(check.to_do)


def test_where_nothing_can_be_written_is_wrong() -> None:
    assert is_wrong(check_disk(Path("/proc")))


# Speaker


def with_sound(root: Path, path: Path, *programs: str) -> None:
    """A board whose screen cable could carry sound, and a USB speaker's microphone before it."""
    put(root / "proc/asound/pcm", "01-00: USB Audio : USB Audio : capture 1\n00-00: screen i2s-hifi-0 : : playback 1\n")
    put(root / "dev/snd/pcmC0D0p")
    for program in programs:
        put(path / program, "#!/bin/sh\n")
        (path / program).chmod(0o755)


def test_a_speaker_is_told_with_where_it_is_switched_on(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(root / "bin"))
    with_sound(root, root / "bin", "aplay", "espeak-ng")
    check = check_speaker(root)
    assert (check.standing, str(check.says)) == (Standing.OK, "screen i2s-hifi-0: Setup, Speaker switches it on")
    assert not check.to_do


def test_a_speaker_that_was_plugged_in_comes_before_the_cable_of_a_screen(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(root / "bin"))
    with_sound(root, root / "bin", "aplay", "espeak-ng")
    with (root / "proc/asound/pcm").open("a") as list_of_devices:
        list_of_devices.write("02-00: USB Audio : USB Audio : playback 1 : capture 1\n")
    assert "audio" in str(check_speaker(root).to_do)
    put(root / "dev/snd/pcmC2D0p")
    assert str(check_speaker(root).says) == "USB Audio: Setup, Speaker switches it on"


@pytest.mark.parametrize(
    ("programs", "standing", "to_do"), [(("aplay",), Standing.OK, "espeak-ng"), ((), Standing.ABSENT, "alsa-utils")]
)
def test_what_a_speaker_lacks_is_named(
    root: Path, monkeypatch: pytest.MonkeyPatch, programs: tuple[str, ...], standing: Standing, to_do: str
) -> None:
    monkeypatch.setenv("PATH", str(root / "bin"))
    with_sound(root, root / "bin", *programs)
    check = check_speaker(root)
    assert check.standing is standing
    assert to_do in str(check.to_do)


def test_no_speaker_is_nothing_wrong(root: Path) -> None:
    assert check_speaker(root).standing is Standing.ABSENT
    put(root / "proc/asound/pcm", "00-00: only a microphone : : capture 1\n")
    assert check_speaker(root).standing is Standing.ABSENT


def test_a_speaker_that_may_not_be_used_is_told(root: Path) -> None:
    put(root / "proc/asound/pcm", "00-00: screen i2s-hifi-0 : : playback 1\n")
    check = check_speaker(root)
    assert check.standing is Standing.ABSENT
    assert "audio" in str(check.to_do)

"""The checks of the board itself: pins, clock, power, watchdog, USB device port, the helper.

Stage: hardware. Source: the firmware's documentation of `vcgencmd get_throttled` (bits from memory); sysfs.
"""

import subprocess
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from core.errors import NotAvailableError
from core.said import Name, Part, Series, said
from hardware.checkup import (
    INSTALL,
    Check,
    absent,
    board_model,
    fine,
    is_instrument,
    its_user_may,
    may_use,
    read_text,
    repair,
    wrong,
)
from hardware.clock import why_clock_is_set
from hardware.gpio_port import GpioError
from hardware.helper_client import SOCKET_PATH, Verb, ask_helper
from hardware.pins import PINS
from hardware.rpi_gpio import RpiGpioPort, load_library

# Bits of the answer: now in 0 to 3, since power-on in 16 to 19.
UNDER_VOLTAGE, THROTTLED, WAS_UNDER_VOLTAGE, WAS_THROTTLED = 1 << 0, 1 << 2, 1 << 16, 1 << 18


def check_board(root: Path) -> Check:
    """What machine this is."""
    model = board_model(root)
    if not model:
        return absent("board", said("no Raspberry Pi; the bench works, without lamp box"))
    return fine("board", Name(model))


def _header_devices(root: Path) -> list[Path]:
    """What the pins of a Pi's header are reached through: its registers, and the chips made for them; no other chip."""
    chips = []
    for chip in sorted((root / "sys/bus/gpio/devices").glob("gpiochip*")):
        made_for = read_text(chip / "of_node/compatible")
        if made_for.startswith(("brcm,bcm2", "raspberrypi,rp1-gpio")) and (root / "dev" / chip.name).exists():
            chips.append(root / "dev" / chip.name)
    registers = root / "dev/gpiomem"
    return [registers, *chips] if registers.exists() else chips


def check_gpio(root: Path, *, load: Callable[[], Any] = load_library) -> Check:
    """The lamp box's pins: a real library, and that it gets at them as this user."""
    name = "gpio"
    devices = _header_devices(root)
    if not devices:
        return absent(name, said("no pins on this machine"))
    try:
        library = load()
    except GpioError as error:
        return wrong(name, error.what, _library(root))
    try:
        # Only this shows it: one library goes by the registers, the other by the chip.
        RpiGpioPort(library).reach()
    except GpioError as error:
        return _out_of_reach(root, [device for device in devices if not may_use(device)], error)
    wanted = ", ".join(f"{pin.line} GPIO{pin.gpio} pin {pin.header}" for pin in PINS)
    return fine(name, Name(wanted))


def _library(root: Path) -> Name:
    """What brings the library of the pins: on an instrument, Debian's own."""
    if not is_instrument(root):
        return repair(root)
    own = "python3-rpi-lgpio" if board_model(root).startswith("Raspberry Pi 5") else "python3-rpi.gpio"
    return Name(f"sudo apt install {own}")


def _out_of_reach(root: Path, refused: list[Path], error: GpioError) -> Check:
    says: Part = said("this user may not use the pins")
    to_do: Part = said("sudo usermod -aG gpio $USER, then log in again")
    if not refused:
        says, to_do = error.what, repair(root)
    elif any(its_user_may(device) for device in refused):
        # A card that was made an instrument where there were no pins has no rule for them.
        says = said("the bench's service is not let at the pins, though its user might use them")
        to_do = Name("sudo dpkg-reconfigure cornerwise")
    return wrong("gpio", says, to_do)


def check_clock(root: Path, now: datetime | None = None) -> Check:
    """Whether the time of day can be believed."""
    now = now or datetime.now(UTC)
    shown = Name(now.strftime("%Y-%m-%d %H:%M UTC"))
    if setter := why_clock_is_set(root, now):
        return fine("clock", said("{shown}, set by {setter}", shown=shown, setter=setter))
    to_do = said("set it on the settings screen, or connect a network; records keep their order either way")
    return wrong("clock", said("{shown}, but nobody set it", shown=shown), to_do)


def read_throttled() -> str | None:
    """The firmware's own word on power and heat; None where there is no such firmware."""
    try:
        done = subprocess.run(["vcgencmd", "get_throttled"], capture_output=True, text=True, timeout=5, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout.strip() if done.returncode == 0 else None


def check_power(read: Callable[[], str | None] = read_throttled) -> Check:
    """Under-voltage and throttling, now and since power-on."""
    name, answer = "power", read()
    number = (answer or "").partition("throttled=")[2]
    if not number.startswith("0x"):
        return absent(name, said("no power monitor on this machine"))
    bits = int(number, 16)
    if bits & (UNDER_VOLTAGE | WAS_UNDER_VOLTAGE):
        when = said("now") if bits & UNDER_VOLTAGE else said("since power-on")
        to_do = said("use a power supply and cable made for this board; feed lamps from a supply of their own")
        return wrong(name, said("under-voltage {when} ({number})", when=when, number=Name(number)), to_do)
    if bits & (THROTTLED | WAS_THROTTLED):
        when = said("now") if bits & THROTTLED else said("since power-on")
        to_do = said("give the enclosure air, or a heat sink")
        return wrong(name, said("slowed by heat {when} ({number})", when=when, number=Name(number)), to_do)
    return fine(name, said("supply and temperature good since power-on"))


def check_watchdog(root: Path) -> Check:
    """The timer that restarts a hung machine, and whether the system feeds it (systemd's RuntimeWatchdogSec).

    Source: Documentation/ABI/testing/sysfs-class-watchdog: `state` is active or inactive.
    """
    for device in sorted((root / "sys/class/watchdog").glob("watchdog*")):
        if (root / "dev" / device.name).exists():
            state = read_text(device / "state")
            identity = Name(read_text(device / "identity") or device.name)
            if state == "inactive":
                says = said("{identity}: nobody feeds it, so a hung machine stays hung", identity=identity)
                to_do = said("on an instrument of its own: switch it off and on once after the installation")
                return absent("watchdog", says, to_do)
            what = (identity, Name(state) if state else said("state unknown"))
            return fine("watchdog", Series(what, joint=", "))
    return absent("watchdog", said("no hardware watchdog on this machine"))


def check_gadget(root: Path) -> Check:
    """Whether the records can be read through the USB cable."""
    controllers = sorted(path.name for path in (root / "sys/class/udc").glob("*"))
    if not controllers:
        says = said("no USB device port: records go by stick")
        return absent("usb cable", says)
    if (root / "sys/kernel/config/usb_gadget/cornerwise").is_dir():
        return fine("usb cable", said("shows the records' drive on {controllers}", controllers=Name(controllers[0])))
    to_do = said("{command} sets the drive up", command=INSTALL)
    return absent("usb cable", said("{controllers} shows no drive", controllers=Name(controllers[0])), to_do)


def check_helper(path: Path = SOCKET_PATH, root: Path = Path("/")) -> Check:
    """The helper for sticks, clock and power-off."""
    if not path.exists():
        to_do = said("on an instrument of its own: {command}", command=INSTALL)
        says = said("not installed: sticks, clock and power-off are left to the desktop")
        return absent("helper", says, to_do)
    if not may_use(path):
        says = said("answers the bench's own user and root only")
        return absent("helper", says, Name("sudo cornerwise doctor"))
    try:
        # systemd listens in its place: only an answer shows that it runs.
        version = ask_helper(Verb.ARE_YOU_THERE, socket_path=path)
    except NotAvailableError as error:
        look = Name("sudo journalctl -b -u cornerwise-helper.service")
        return wrong("helper", error.what, look)
    return fine("helper", said("answers ({version})", version=Name(version)))

"""Makes the board show a USB drive on its device port: run once at start as root, before the bench.

Stage: hardware. Input: a USB device controller, where the board has one. Output: a gadget with one removable, read-only
drive, empty until the helper's `swap-image` puts an image into it. Source: Linux USB gadget configfs documentation.
"""

import sys
from pathlib import Path

from hardware.root_verbs import GADGET_LUN, RootPlaces

CONTROLLERS = Path("/sys/class/udc")
# The Linux Foundation's numbers for a gadget made of functions (usb.ids).
VENDOR, PRODUCT = "0x1d6b", "0x0104"
TEXTS = {"manufacturer": "Cornerwise", "product": "Cornerwise records", "serialnumber": "cornerwise"}
CONFIGURATION = "configs/c.1"


def set_up_gadget(gadget: Path, controllers: Path) -> str:
    """Create the gadget and plug it into the first controller; returns its name, empty where the board has none."""
    found = sorted(controller.name for controller in controllers.iterdir()) if controllers.is_dir() else []
    if not found:
        return ""
    if not gadget.is_dir():
        _make(gadget)
    if not (gadget / "UDC").read_text(encoding="ascii").strip():
        (gadget / "UDC").write_text(found[0] + "\n", encoding="ascii")
    return found[0]


def _make(gadget: Path) -> None:
    gadget.mkdir()
    (gadget / "idVendor").write_text(VENDOR, encoding="ascii")
    (gadget / "idProduct").write_text(PRODUCT, encoding="ascii")
    texts = gadget / "strings/0x409"
    texts.mkdir()
    for name, text in TEXTS.items():
        (texts / name).write_text(text, encoding="ascii")
    lun = gadget / GADGET_LUN
    lun.parent.mkdir()  # the kernel makes lun.0 in it
    (lun / "removable").write_text("1", encoding="ascii")
    (lun / "ro").write_text("1", encoding="ascii")
    configuration = gadget / CONFIGURATION
    configuration.mkdir()
    (configuration / lun.parent.name).symlink_to(lun.parent)


def main() -> int:
    """Set up, and say what came of it; a board without a device port is no failure."""
    controller = set_up_gadget(RootPlaces().gadget, CONTROLLERS)
    print(f"gadget: the drive is on {controller}" if controller else "gadget: this board has no USB device port")
    return 0


if __name__ == "__main__":
    sys.exit(main())

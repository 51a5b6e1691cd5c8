"""The checks of what the person sees and touches: display, touch panel, fonts.

Stage: hardware. Source: the kernel's DRM interface in sysfs.
"""

import ctypes.util
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

from core.said import Name, said
from hardware.checkup import Check, absent, fine, may_use, read_text, repair, wrong
from hardware.touch_panels import Fingers, touch_panels

# What SDL draws into without anything to see.
UNSEEN_DRIVERS = {"offscreen", "dummy"}
FONT = "data/fonts/Roboto-Regular.ttf"  # Kivy's own, in its package


def check_display(root: Path, environ: Mapping[str, str]) -> Check:
    """Every connector of every card, the driver SDL will use, and whether this user may use the card."""
    name = "display"
    driver = environ.get("SDL_VIDEODRIVER", "")
    if driver in UNSEEN_DRIVERS:
        to_do = said("unset SDL_VIDEODRIVER, unless this is a test")
        return wrong(name, said("draws into nothing ({driver})", driver=Name(driver)), to_do)
    if desktop := environ.get("WAYLAND_DISPLAY") or environ.get("DISPLAY"):
        return fine(name, said("a desktop ({desktop})", desktop=Name(desktop)))
    connectors = sorted((root / "sys/class/drm").glob("card*-*"))
    connected = [path for path in connectors if read_text(path / "status") == "connected"]
    if not connected:
        named = ", ".join(path.name for path in connectors)
        seen = Name(named) if named else said("no graphics card")
        to_do = said("check the display's cable and power; the bench runs in the terminal meanwhile")
        return wrong(name, said("nothing connected ({seen})", seen=seen), to_do)
    says = ", ".join(f"{path.name} {read_text(path / 'modes').split(chr(10))[0]}".strip() for path in connected)
    cards = {path.name.split("-")[0] for path in connected}
    if not any(may_use(root / "dev/dri" / card) for card in cards):
        to_do = said("sudo usermod -aG video,render,input $USER, then log in again")
        return wrong(name, said("{screens}: this user may not draw on it", screens=Name(says)), to_do)
    return fine(name, said("{screens}, without a desktop", screens=Name(says)))


def check_touch(root: Path, environ: Mapping[str, str], *, mtdev: str | None = None) -> Check:
    """The touch panel, the library that reads it without a desktop, and this user's right to."""
    name = "touch"
    panels = touch_panels(root)
    if environ.get("WAYLAND_DISPLAY") or environ.get("DISPLAY"):
        return fine(name, said("touches and mouse through the desktop"))
    if not panels:
        to_do = said("check the panel's cable; on an HDMI panel, its USB cable too")
        return absent(name, said("no touch panel"), to_do)
    names = ", ".join(f"{panel.name} ({panel.device.name})" for panel in panels)
    through_mtdev = any(panel.fingers is Fingers.MANY for panel in panels)
    if through_mtdev and (mtdev if mtdev is not None else ctypes.util.find_library("mtdev")) in (None, ""):
        to_do = said("{command} (brings libmtdev1)", command=repair(root))
        return wrong(name, said("{names}: no libmtdev to read it with", names=Name(names)), to_do)
    if not any(may_use(panel.device) for panel in panels):
        to_do = said("sudo usermod -aG input $USER, then log in again")
        return wrong(name, said("{names}: this user may not read it", names=Name(names)), to_do)
    through, one = said("{names}, through mtdev", names=Name(names)), said("{names}, one finger", names=Name(names))
    return fine(name, through if through_mtdev else one)


def check_fonts(root: Path) -> Check:
    """The screen's font is part of Kivy; a broken installation shows here."""
    spec = find_spec("kivy")
    folders = spec.submodule_search_locations if spec else None
    if not folders or not (Path(folders[0]) / FONT).is_file():
        return wrong("fonts", said("Kivy or its font is missing"), repair(root))
    return fine("fonts", said("the screen's font is there"))

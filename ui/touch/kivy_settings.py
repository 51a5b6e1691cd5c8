"""What Kivy reads from the environment when it is imported: set here, once, before its first import. No kivy in here.

Stage: screen. Input: ScreenSettings. Output: os.environ. Source: Kivy 2.3.1, "Controlling the environment".
"""

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from tempfile import mkdtemp
from threading import Event
from types import ModuleType

from msgspec import Struct

USUAL_PANEL_PX = (800, 480)


class ScreenSettings(Struct, frozen=True, kw_only=True):
    """The panel: size in px as the person sees it, frames a second at most, quarter turns in degrees."""

    width_px: int = USUAL_PANEL_PX[0]
    height_px: int = USUAL_PANEL_PX[1]
    frames_per_s: int = 60
    rotation_deg: int = 0
    fullscreen: bool = False


def is_kiosk() -> bool:
    """True where SDL draws on the panel without a desktop."""
    return os.environ.get("SDL_VIDEODRIVER") == "kmsdrm"


def settings_of_this_machine(rotation_deg: int, panel_px: tuple[int, int] | None = None) -> ScreenSettings:
    """What suits this machine, its panel turned as the person chose; `panel_px` is how large a window is to be."""
    width_px, height_px = panel_px or USUAL_PANEL_PX
    return ScreenSettings(
        width_px=width_px,
        height_px=height_px,
        fullscreen=is_kiosk(),
        # A Pi draws every frame it is allowed to; nobody sees more than these.
        frames_per_s=30 if is_kiosk() else 60,
        rotation_deg=rotation_deg,
    )


def set_environment() -> None:
    """Make Kivy deaf to arguments, silent on files, and at home in a folder of its own. Call before importing kivy."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    fixed = {
        "KIVY_NO_ARGS": "1",
        "KIVY_NO_FILELOG": "1",
        "KIVY_NO_CONFIG": "1",
        # A number from a cable wakes the screen at once instead of at its next frame.
        "KIVY_CLOCK": "interrupt",
        "KIVY_LOG_MODE": "PYTHON",
        # sdl2 or nothing: with another window provider a Pi without a display would stay dark without a word.
        "KIVY_WINDOW": "sdl2",
        # No screen shows a picture from a file but the window's own sign: else a whole library of formats is loaded.
        "KIVY_IMAGE": "sdl2",
    }
    os.environ.update(fixed)
    os.environ.setdefault("KIVY_HOME", str(cache / "cornerwise" / "kivy"))
    try:
        Path(os.environ["KIVY_HOME"]).mkdir(parents=True, exist_ok=True)
    except OSError:
        # A home that is missing, full or read-only costs nobody the bench: Kivy keeps nothing there that is ours.
        os.environ["KIVY_HOME"] = mkdtemp(prefix="cornerwise-kivy-")


def read_own_base() -> None:
    """Have Kivy read our rules for its own widgets: it parses a book for sixty more, a sixth of a bare window's start.
    Call behind `set_environment`; where they have been read already this changes nothing."""
    import kivy
    import kivy.resources  # from its own folder; looks for ours nowhere

    theirs, kivy.kivy_data_dir = kivy.kivy_data_dir, str(Path(__file__).with_name("base"))
    try:
        import kivy.lang  # reads them when it is imported
    finally:
        kivy.kivy_data_dir = theirs


def begin_clock() -> None:
    """Have Kivy's clock begin without asyncio: it loads that for loops in which nobody here runs it, a twentieth of a
    bare window's start. Call before there is a thread that could want the real one; where either is loaded already this
    changes nothing."""
    set_environment()
    if "asyncio" in sys.modules or "kivy.clock" in sys.modules:
        return
    stand_in = ModuleType("asyncio")
    stand_in.__dict__.update(Event=Event, wait_for=None)
    sys.modules["asyncio"] = stand_in
    try:
        from kivy.clock import Clock
    finally:
        del sys.modules["asyncio"]
    Clock._async_event = None  # nobody waits for it


DRM_CONNECTORS = Path("/sys/class/drm")


def has_display(environ: Mapping[str, str], drm: Path = DRM_CONNECTORS) -> bool:
    """True for a desktop, a driver chosen by hand, or a panel on any connector of any card."""
    if any(environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")):
        return True
    return any(_says_connected(status) for status in drm.glob("card*-*/status"))


def _says_connected(status: Path) -> bool:
    try:
        return status.read_text(encoding="ascii").strip() == "connected"
    except OSError:
        return False

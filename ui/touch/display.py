"""Whether there is a screen to show the bench on. Kivy itself draws into nothing, silently, when there is none."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

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

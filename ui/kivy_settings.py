"""What Kivy reads from the environment when it is imported: set here, once, before its first import. No kivy in here.

Stage: screen. Input: ScreenSettings. Output: os.environ. Source: Kivy 2.3.1, "Controlling the environment".
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SETTINGS_FILE = "screen.json"
ROTATIONS_DEG = (0, 90, 180, 270)
KIOSK_SLEEP_S = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenSettings:
    """The panel: size in px as the person sees it, frames a second at most, quarter turns in degrees, theme, and after
    how long without touch or news it goes dark (None: never)."""

    width_px: int = 800
    height_px: int = 480
    frames_per_s: int = 60
    rotation_deg: int = 0
    fullscreen: bool = False
    dark: bool = False
    sleep_after_s: float | None = None


def is_kiosk() -> bool:
    """True where SDL draws on the panel without a desktop."""
    return os.environ.get("SDL_VIDEODRIVER") == "kmsdrm"


def settings_of_this_machine(folder: Path) -> ScreenSettings:
    """What suits this machine, and what the person chose the last time."""
    kept = _kept(folder / SETTINGS_FILE)
    return ScreenSettings(
        fullscreen=is_kiosk(),
        # A Pi draws every frame it is allowed to; nobody sees more than these.
        frames_per_s=30 if is_kiosk() else 60,
        sleep_after_s=KIOSK_SLEEP_S if is_kiosk() else None,
        dark=kept.get("dark") is True,
        rotation_deg=rotation if (rotation := kept.get("rotation_deg")) in ROTATIONS_DEG else 0,
    )


def keep_settings(folder: Path, settings: ScreenSettings) -> None:
    """Remember what the person can choose; raises OSError where the folder cannot be written."""
    text = json.dumps({"dark": settings.dark, "rotation_deg": settings.rotation_deg})
    draft = folder / f"{SETTINGS_FILE}.new"
    draft.write_text(text, encoding="utf-8")
    draft.replace(folder / SETTINGS_FILE)


def _kept(path: Path) -> dict[str, Any]:
    """A file that is missing or damaged leaves the defaults: the bench must start."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return kept if isinstance(kept, dict) else {}


def set_environment() -> None:
    """Make Kivy deaf to arguments, silent on files, and at home in a folder of its own. Call before importing kivy."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    fixed = {
        "KIVY_NO_ARGS": "1",
        "KIVY_NO_FILELOG": "1",
        "KIVY_NO_CONFIG": "1",
        "KIVY_LOG_MODE": "PYTHON",
        # sdl2 or nothing: with another window provider a Pi without a display would stay dark without a word.
        "KIVY_WINDOW": "sdl2",
    }
    os.environ.update(fixed)
    os.environ.setdefault("KIVY_HOME", str(cache / "cornerwise" / "kivy"))
    Path(os.environ["KIVY_HOME"]).mkdir(parents=True, exist_ok=True)

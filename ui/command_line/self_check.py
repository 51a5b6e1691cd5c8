"""`cornerwise --self-check`: loads every part of the program and says its version; for a release that was just made.

What draws is left out, for it makes a window where it is loaded; whether that works shows the first screen.
"""

import pkgutil
from importlib import import_module

import core
import firmware_bridge
import hardware
import ui
from ui.speech import Language, catalogue_of
from ui.touch.kivy_settings import set_environment

# Made of the board's own language, or making a window where they are loaded.
_LEFT_OUT = (
    "firmware_bridge.pico.",
    "ui.touch.bench_app",
    "ui.touch.screen",
    "ui.touch.shell",
    "ui.touch.widgets",
    "ui.speech.locale.catalogues",
)
# Only a board or a shop has them (the extras of pyproject.toml); the bench does without where they are not.
_OF_SOME = ("bleak", "evdev", "RPi", "psycopg", "yoyo")


def load_everything() -> int:
    """Import every module, catalogue and the screen's library; returns how many, raises what a broken one raises."""
    set_environment()
    import_module("kivy.lang")
    for language in Language:
        catalogue_of(language)
    loaded = 0
    for package in (core, firmware_bridge, hardware, ui):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if module.name.startswith(_LEFT_OUT):
                continue
            try:
                import_module(module.name)
            except ImportError as error:
                if not _may_be_missing(error):
                    raise
            loaded += 1
    return loaded


def _may_be_missing(error: ImportError) -> bool:
    """Whether the bench does without what is not there; the shop's driver names no module where libpq is missing."""
    if isinstance(error, ModuleNotFoundError) and error.name is not None:
        return error.name.split(".")[0] in _OF_SOME
    return "libpq library not found" in str(error)

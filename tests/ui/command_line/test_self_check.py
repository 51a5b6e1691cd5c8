"""A release that was just made loads on every bench: on a PC, and on one installed before a library was asked for."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
# Both distributions of the pins have the one module's name.
MODULES = {"RPi.GPIO": "RPi", "rpi-lgpio": "RPi"}
WITHOUT = """
import sys

class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {missing!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)

sys.meta_path.insert(0, Missing())
from ui.command_line.self_check import load_everything
assert load_everything() > 0
"""


def test_it_loads_without_what_only_a_board_has() -> None:
    """An update brings the program alone: a bench from before a library of the extras must take it."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    names = {re.split(r"[<>=]", wanted)[0] for extra in ("pi", "pi5") for wanted in extras[extra]}
    code = WITHOUT.format(missing={MODULES.get(name, name) for name in names})
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


WITHOUT_LIBPQ = """
import ctypes.util

found = ctypes.util.find_library
ctypes.util.find_library = lambda name: None if "pq" in name else found(name)
from ui.command_line.self_check import load_everything
assert load_everything() > 0
"""


def test_it_loads_where_the_systems_library_for_a_shop_is_missing() -> None:
    done = subprocess.run([sys.executable, "-c", WITHOUT_LIBPQ], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr

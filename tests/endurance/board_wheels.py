"""Asks the package index whether all libraries of the program come as wheels for the board, for both its Pythons.

Needs the network: `python tests/endurance/board_wheels.py`. Prints a line a Python; status 1 when one is missing.
The GPIO libraries and evdev come as source and are built on the board; they are not asked for here.
"""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
PYTHONS = ("3.11", "3.13")
# What Debian 12 and 13 can run: glibc 2.36 and 2.41.
PLATFORMS = ("manylinux2014", *(f"manylinux_2_{minor}" for minor in (17, 24, 26, 27, 28, 31, 34, 35, 36)))


def resolve(python: str, requirements: list[str]) -> list[str]:
    """Names of the wheels that pip would install; raises CalledProcessError when one is missing."""
    platforms = [option for name in PLATFORMS for option in ("--platform", f"{name}_aarch64")]
    with TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "-q", "-d", folder, "--only-binary=:all:",
             "--implementation", "cp", "--python-version", python, *platforms, *requirements],
            check=True,
        )  # fmt: skip
        return sorted(path.name for path in Path(folder).iterdir())


def main() -> int:
    """Both Pythons."""
    requirements = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    for python in PYTHONS:
        try:
            wheels = resolve(python, requirements)
        except subprocess.CalledProcessError:
            print(f"Python {python}: not everything comes as a wheel for aarch64", file=sys.stderr)
            return 1
        print(f"Python {python}: {len(wheels)} wheels, {sum('aarch64' in name for name in wheels)} of them for aarch64")
    return 0


if __name__ == "__main__":
    sys.exit(main())

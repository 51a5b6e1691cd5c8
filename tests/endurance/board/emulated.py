"""An emulated board, driven by a command of the person's own: nothing here knows which emulator stands behind it.

The command takes these verbs: `start [--machine NAME] [--copy FOLDER]` (a fresh card with a copy of FOLDER in
/home/pi, or the card as it was left) with `-- QEMU ARGUMENT ...` behind them, `run --limit S COMMAND` (as root inside;
output and status come back), `shot FILE.png` (the panel's picture), `tap X Y` (a finger on a multi-touch panel, px from
the upper left), `point X Y` (QEMU's own tablet), `monitor WORDS` (QEMU's), `pin N [high|low]`, `cut` (pull the plug)
and `stop`.
"""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from msgspec import Struct
from PIL import Image

# Ends a hang; an emulated processor is ten times slower than a board's, and nothing timed here is a figure.
PATIENCE_S = 900.0
# The same for what works through a whole package: beside other programs that took longer than the quarter hour.
LONG_PATIENCE_S = 3600.0
# Looking inside starts a shell there, a second or two of a busy board's processor: what takes long is looked at seldom.
SELDOM_S = 15.0


class Board(Struct, frozen=True, kw_only=True):
    """One board; its pictures go into a folder, for a person to look at."""

    command: tuple[str, ...]
    pictures: Path

    def ask(self, *words: str) -> str:
        """What the command says; AssertionError where it fails."""
        done = subprocess.run([*self.command, *words], capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{' '.join(words)}: status {done.returncode}\n{done.stdout}{done.stderr}"
        return done.stdout

    def run(self, shell: str, *, fails: bool = False) -> str:
        """Run this as root inside, and give what it said; `fails`: whatever its status."""
        return self.ask("run", "--limit", "560", f"({shell}) 2>&1{' || true' if fails else ''}").strip()

    def start(self, machine: str, *more: str) -> None:
        """Power on, and wait until it answers."""
        subprocess.run([*self.command, "start", "--machine", machine, *more], check=False)
        self.until("the board", lambda: self.is_up())

    def is_up(self) -> bool:
        """Whether it answers."""
        words = [*self.command, "run", "--limit", "20", "true"]
        return subprocess.run(words, capture_output=True, check=False).returncode == 0

    def picture(self, name: str = "") -> np.ndarray:
        """The panel's pixels (height, width, 3), kept under this name."""
        file = self.pictures / f"{name or 'now'}.png"
        self.ask("shot", str(file))
        with Image.open(file) as image:
            return np.asarray(image.convert("RGB"))

    def shown(self, *properties: str) -> dict[str, str]:
        """What systemd knows of the bench."""
        said = self.run(f"systemctl show cornerwise.service -p {','.join(properties)}")
        return dict(line.split("=", 1) for line in said.splitlines() if "=" in line)

    def until(
        self, what: str, holds: Callable[[], bool], *, patience_s: float = PATIENCE_S, every_s: float = 0.5
    ) -> None:
        """Wait until it is so."""
        until_s = time.monotonic() + patience_s
        while not holds():
            assert time.monotonic() < until_s, f"{what} did not come"
            time.sleep(every_s)


def same_share(one: np.ndarray, other: np.ndarray) -> float:
    """How much of two pictures is the same but for what another renderer does to an edge."""
    return float((abs(one.astype(int) - other.astype(int)) <= 48).all(axis=2).mean())

"""The running program as the person at the bench has it: looked at, touched, and the panel's own pixels beside it."""

from __future__ import annotations

import contextlib
import fcntl
import grp
import json
import math
import os
import pwd
import socket
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.kiosk.devices import Panel
from tests.kiosk.scanout import panel_pixels

ROOT = Path(__file__).resolve().parents[2]
WIDTH, HEIGHT = 800, 480
CONSOLE = Path("/dev/tty1")
# As the service has it: no rights but those of these groups (hardware/systemd/cornerwise.service).
USER, GROUPS = "nobody", ("video", "render", "input", "dialout")
# An emulated processor is ten times slower than a Pi; nothing timed here is a figure.
PATIENCE_S = 240.0
# Where pictures of the panel are left for a person to look at.
PICTURES = os.environ.get("KIOSK_PICTURES", "")

HERE = Path(__file__).parent
# The real program with a window to look in; without one; and a window that shows one word, to compare with.
WATCHED, ALONE, BARE = str(HERE / "program.py"), "ui.command_line.cli", str(HERE / "bare.py")

State = dict[str, Any]
NOTHING_YET: State = {
    "look": 0,
    "seen": False,
    "screen": "",
    "buttons": [],
    "texts": [],
    "touches": 0,
    "values": [],
    "closed": False,
}


class Kiosk:
    """Started on the bare panel as an unprivileged user at the console, as systemd starts it."""

    def __init__(self, folder: Path, panel: Panel, program: Sequence[str]) -> None:
        self.folder, self.panel = folder, panel
        self.taps = 0
        self.before = self.picture("console")
        user = pwd.getpwnam(USER)
        for owned in (folder, *folder.rglob("*"), CONSOLE):
            os.chown(owned, user.pw_uid, user.pw_gid)
        self._notices = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
        self._notices.bind(str(folder / "notify"))
        (folder / "notify").chmod(0o666)
        self.notices: list[str] = []
        environment = {
            "PATH": os.environ["PATH"],
            "HOME": str(folder),
            "XDG_CACHE_HOME": str(folder),
            "PYTHONPATH": str(ROOT),
            "PYTHONDONTWRITEBYTECODE": "1",
            "SDL_VIDEODRIVER": "kmsdrm",
            "KIVY_WINDOW": "sdl2",
            "NOTIFY_SOCKET": str(folder / "notify"),
            "PYTHONFAULTHANDLER": "1",
            # The renderer where a machine draws without graphics of its own; a board has none of these.
            **{name: value for name, value in os.environ.items() if name.startswith(("GALLIUM_", "LP_"))},
        }
        with (folder / "log").open("w") as log, CONSOLE.open("rb") as console:
            self.process = subprocess.Popen(
                [sys.executable, *program],
                env=environment,
                stdin=console,
                stdout=log,
                stderr=log,
                cwd=folder,
                user=user.pw_uid,
                group=user.pw_gid,
                extra_groups=[grp.getgrnam(name).gr_gid for name in GROUPS],
                start_new_session=True,
                preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
            )

    def end(self) -> None:
        """Pull the plug."""
        self.process.kill()
        self.process.wait()
        self._notices.close()

    def status(self) -> dict[str, str]:
        """What the kernel says of the process: /proc/PID/status."""
        lines = Path(f"/proc/{self.process.pid}/status").read_text().splitlines()
        return {name: value.strip() for name, _, value in (line.partition(":") for line in lines)}

    def used_s(self) -> float:
        """Processor time of the process and its threads, s: /proc/PID/stat, fields 14 and 15."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def is_ready(self) -> bool:
        """Whether it has told its service manager so."""
        with contextlib.suppress(BlockingIOError):
            while True:
                self.notices.append(self._notices.recv(256).decode())
        return "READY=1" in self.notices

    def state(self) -> State:
        """What its window says now."""
        try:
            read: State = json.loads((self.folder / "state.json").read_text())
        except FileNotFoundError:
            return NOTHING_YET
        return read

    def until(self, what: str, holds: Callable[[State], bool], patience_s: float = PATIENCE_S) -> State:
        """Wait until the state is as wished."""
        patience_until = time.monotonic() + patience_s
        while time.monotonic() < patience_until:
            assert self.process.poll() is None, f"ended with {self.process.returncode}:\n{self.story()}"
            state = self.state()
            if holds(state):
                return state
            time.sleep(0.1)
        pytest.fail(f"{what} did not come: {self.state()}\n{self.story()}")

    def story(self) -> str:
        """What it wrote, and which touches came when."""
        files = (self.folder / "log", self.folder / "events")
        return "\n".join(file.read_text() for file in files if file.exists())

    def place(self, words: str) -> tuple[int, int]:
        """Where the one button with these words stands once the screen is at rest, at one place in two looks, and has
        been on the panel for so long that a touch counts."""
        place, look = None, 0
        while True:
            state = self.until(
                f"a button {words!r}",
                lambda state, look=look: state["look"] > look and state["seen"] and _places(state, words) != [],
            )
            before, look = place, state["look"]
            (place,) = _places(state, words)
            if place == before:
                return place

    def on_panel(self, x: int, y: int) -> tuple[int, int]:
        """The panel's own px for a place as the person sees it, the picture turned about its middle (y downwards)."""
        state = self.state()
        (width, height), turned_rad = state["size"], math.radians(state["rotation"])
        right, up = x - (width - 1) / 2, (height - 1) / 2 - y
        across = right * math.cos(turned_rad) - up * math.sin(turned_rad)
        upwards = right * math.sin(turned_rad) + up * math.cos(turned_rad)
        return round((WIDTH - 1) / 2 + across), round((HEIGHT - 1) / 2 - upwards)

    @contextlib.contextmanager
    def finger_on(self, words: str) -> Iterator[tuple[int, int]]:
        """A finger down on this button; it has arrived exactly once, where it was put. Gives its place on the panel."""
        x, y = self.place(words)
        place = self.on_panel(x, y)
        self.panel.press(*place)
        try:
            self._arrived(x, y)
            yield place
        finally:
            self.panel.lift()

    def tap(self, words: str) -> None:
        """Touch this button briefly; the touch arrives exactly once and where it was made."""
        x, y = self.place(words)
        self.panel.tap(*self.on_panel(x, y))
        self._arrived(x, y)

    def go(self, words: str, screen: str) -> None:
        """Touch this button, and see this screen come."""
        self.tap(words)
        self.until(screen, lambda state: state["screen"] == screen)

    def key_in(self, digits: str) -> None:
        """On the bench's keypad, as a person does whose cable is dead: each figure is seen before the next."""
        before = len(self.state()["values"])
        self.until("the keypad", lambda state: state["typing"])
        for count, digit in enumerate(digits, start=1):
            self.tap(digit)
            typed = digits[:count]
            state = self.until(typed, lambda state, count=count: len(state["entry"]) >= count)
            assert state["entry"] == typed, self.story()
        self.tap("Take reading")
        state = self.until("the reading", lambda state: len(state["values"]) > before)
        assert state["values"][before:] == [float(digits)]
        self.until("an empty number", lambda state: state["entry"] == "")

    def _arrived(self, x: int, y: int) -> None:
        self.taps += 1
        state = self.until("the touch", lambda state: state["touches"] >= self.taps)
        assert state["touches"] == self.taps, "a touch counted twice"
        ((landed_x, landed_y),) = state["last_touch"]
        assert max(abs(landed_x - x), abs(landed_y - y)) <= 2, "a touch landed elsewhere"

    def picture(self, name: str) -> np.ndarray:
        """The panel's pixels now, kept under this name where pictures are wanted."""
        pixels = panel_pixels()
        if PICTURES:
            Path(PICTURES).mkdir(exist_ok=True)
            Image.fromarray(pixels).save(Path(PICTURES, f"{name}.png"))
        return pixels

    def settled_picture(self, name: str) -> np.ndarray:
        """The same once nothing moves: two looks at it are alike."""
        before = self.picture(name)
        while True:
            look = self.state()["look"]
            self.until("another look", lambda state, look=look: state["look"] > look + 1)
            now = self.picture(name)
            if (now == before).all():
                return now
            before = now


def _places(state: State, words: str) -> list[tuple[int, int]]:
    return [(x, y) for found, x, y in state["buttons"] if found == words]

"""The real program under a watchdog of systemd's kind: is it fed while all goes well and through a sync of 60 s, and
does the feeding end where the screen, the archive or the cables hang? Status 1 where not.

    SDL_VIDEODRIVER=offscreen PYTHONPATH=. python tests/endurance/unfed.py

Each program runs as it does on a bench, all at once, each with a socket of its own as NOTIFY_SOCKET; in it one part is
made to hang for ever (a turn of the screen's loop, a task of the archive, a look for ports), or the archive is busy for
60 s as with a card that syncs slowly. Counted is when WATCHDOG=1 came, which is all that systemd hears; what it does
then is proven on an installed machine (tests/endurance/update_on_systemd.py, tests/kiosk).
"""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from itertools import pairwise
from pathlib import Path

from msgspec import Struct, field

sys.path.insert(0, str(Path(__file__).parents[2]))

from firmware_bridge.discovery import PlugWatch, Port
from hardware.watchdog import FRESH_S
from ui.bench.supervision import BUSY_S

WATCHED_S = 15.0  # WatchdogSec= of hardware/systemd/cornerwise.service
SYNC_S = 60.0
START_S, WELL_S, LONGER_S = 180.0, 20.0, 30.0
# Two turns of the loop and a message on a busy machine.
LATE_S = 3.0
BEGUN = "hangs"
# What hangs, and after how long the feeding must have ended; None: it goes on.
ENDS_S: dict[str, float | None] = {
    "screen": FRESH_S,
    "archive": BUSY_S + FRESH_S,
    "cables": BUSY_S + FRESH_S,
    "sync": None,
}


class Parts(Struct):
    """In the child: what can be made to hang, as the program puts it together."""

    submit: Callable[[Callable[[object], object]], None] = lambda _task: None
    ports_hang: threading.Event = field(default_factory=threading.Event)


def program(folder: str, what: str) -> int:
    """In the child: the bench, in which this hangs after a while."""
    import ui.start
    from ui.bench.workers.archive_thread import ArchiveThread
    from ui.command_line.cli import main

    parts = Parts()

    def ports() -> list[Port]:
        if parts.ports_hang.is_set():
            threading.Event().wait()
        return []

    def archive(*given: object) -> ArchiveThread:
        made = ArchiveThread(*given)  # type: ignore[arg-type]
        parts.submit = made.submit  # type: ignore[assignment]
        return made

    ui.start.PlugWatch = lambda: PlugWatch(ports)  # type: ignore[misc,assignment]
    ui.start.ArchiveThread = archive  # type: ignore[misc,assignment]
    threading.Thread(target=hang, args=(what, parts), daemon=True).start()
    return main(["--data", folder])


def hang(what: str, parts: Parts) -> None:
    """Wait for the screen, let it be well for a while, then stop one part."""
    while "kivy.app" not in sys.modules:
        time.sleep(0.1)
    from kivy.app import App
    from kivy.clock import Clock

    while App.get_running_app() is None or App.get_running_app().root is None:
        time.sleep(0.1)
    time.sleep(WELL_S)
    print(BEGUN, flush=True)
    match what:
        case "screen":
            Clock.schedule_once(lambda _elapsed_s: threading.Event().wait())
        case "archive":
            parts.submit(lambda _archive: threading.Event().wait())
        case "sync":
            parts.submit(lambda _archive: time.sleep(SYNC_S))
        case "cables":
            parts.ports_hang.set()


class Watched:
    """One program and what systemd would hear of it."""

    def __init__(self, top: Path, what: str) -> None:
        self.what = what
        self.fed_s: list[float] = []
        self.begun_s: float | None = None
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(top / f"{what}.notify"))
        watched = {"NOTIFY_SOCKET": str(top / f"{what}.notify"), "WATCHDOG_USEC": str(round(WATCHED_S * 1e6))}
        self._child = subprocess.Popen(
            [sys.executable, __file__, "--program", str(top / what), what],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
            env={**os.environ, "SDL_VIDEODRIVER": "offscreen", **watched},
        )  # fmt: skip
        threading.Thread(target=self._hear, daemon=True).start()
        threading.Thread(target=self._begun, daemon=True).start()

    def _hear(self) -> None:
        while True:
            if "WATCHDOG=1" in self._socket.recv(100).decode():
                self.fed_s.append(time.monotonic())

    def _begun(self) -> None:
        assert self._child.stdout is not None
        for line in self._child.stdout:
            if line.strip() == BEGUN:
                self.begun_s = time.monotonic()

    def wait(self) -> None:
        """Until all that can be seen of it has been seen."""
        until_s = time.monotonic() + START_S
        while self.begun_s is None and time.monotonic() < until_s and self._child.poll() is None:
            time.sleep(0.5)
        ends_s = ENDS_S[self.what]
        time.sleep(LONGER_S + (SYNC_S if ends_s is None else ends_s))

    def end(self) -> None:
        with suppress(ProcessLookupError):
            self._child.kill()
        self._child.wait()

    def held(self) -> bool:
        """Say how it went; whether it is as it must be."""
        if self.begun_s is None:
            print(f"{self.what}: the program did not start")
            return False
        since_s = [at_s - self.begun_s for at_s in self.fed_s]
        longest_s = max((later - earlier for earlier, later in pairwise(since_s)), default=0.0)
        last_s, ends_s = max(since_s, default=-99.0), ENDS_S[self.what]
        well = sum(at_s <= 0.0 for at_s in since_s)
        print(
            f"{self.what}: fed {len(since_s)} times, {well} of them before it hung, longest gap {longest_s:.1f} s, "
            f"last {last_s:.1f} s after it began" + (", fed on" if ends_s is None else f", must end by {ends_s:.0f} s"),
            flush=True,
        )
        fed_well = well >= 1 and longest_s < WATCHED_S
        if ends_s is None:
            return fed_well and last_s > SYNC_S + LONGER_S - WATCHED_S
        # Not sooner than work may take either.
        return fed_well and ends_s - WATCHED_S - FRESH_S < last_s < ends_s + LATE_S


def main() -> int:
    if sys.argv[1:2] == ["--program"]:
        return program(*sys.argv[2:])
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    with tempfile.TemporaryDirectory() as name:
        programs = [Watched(Path(name), what) for what in ENDS_S]
        waiting = [threading.Thread(target=one.wait) for one in programs]
        for thread in waiting:
            thread.start()
        for thread in waiting:
            thread.join()
        for one in programs:
            one.end()
        held = [one.held() for one in programs]
        return int(not all(held))


if __name__ == "__main__":
    sys.exit(main())

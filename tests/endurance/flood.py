"""The real program under a flood on two ports, 1 MB/s of valid lines and of garbage: does its screen keep its rate, is
every such port named and muted, is SIGTERM obeyed? Status 1 where not.

    SDL_VIDEODRIVER=offscreen PYTHONPATH=. python tests/endurance/flood.py [--seconds 20]

The program runs as it does on a bench, with an observer that counts the turns of its loop; it is told of two
pseudo-terminals as its ports. First it is left alone, then flooded. Rates are compared with each other, on the same
machine at the same time: on a busy one both are low.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from queue import Empty, Queue
from typing import IO, Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.metrology.readings import Quantity
from firmware_bridge.discovery import PlugWatch, Port
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal

LINES = b"+  143.62 MM\r\n" * 800
GARBAGE = os.urandom(11_200)
BYTES_PER_S = 1_000_000
START_S, END_S = 120.0, 15.0
# Of the rate that the screen had alone; two processes that write 2 MB/s take their share of two cores as well.
LEAST_SHARE = 0.5


def program(folder: str, *paths: str) -> int:
    """In the child: the bench, and every second a line about its screen."""
    import ui.start
    from ui.command_line.cli import main

    ports = [Port(path=path, device="pty", description="adapter") for path in paths]
    ui.start.PlugWatch = lambda: PlugWatch(lambda: ports)  # type: ignore[misc,assignment]
    threading.Thread(target=observe, daemon=True).start()
    return main(["--data", folder])


def observe() -> None:
    """Count frames from outside of the application; a line of JSON a second."""
    while "kivy.clock" not in sys.modules:
        time.sleep(0.05)
    from kivy.app import App
    from kivy.clock import Clock

    while App.get_running_app() is None or App.get_running_app().root is None:
        time.sleep(0.05)
    frames: list[float] = []
    heard: dict[str, None] = {}

    def look(_elapsed_s: float) -> None:
        frames.append(time.monotonic())
        if message := App.get_running_app().snapshot.message:
            heard[str(message.text)] = None  # the next may follow before anybody reads it

    Clock.schedule_interval(look, 0)
    while True:
        time.sleep(1.0)
        seen, frames[:] = list(frames), frames[-1:]
        gaps = [after - before for before, after in pairwise(seen)]
        said = {"frames": len(gaps), "gap_s": max(gaps, default=1.0), "messages": list(heard)}
        print(json.dumps(said), flush=True)


def flood(cable: PseudoTerminal, content: bytes, stop: threading.Event) -> None:
    while not stop.is_set():
        with suppress(OSError):
            cable.write(content)
        stop.wait(len(content) / BYTES_PER_S)


def collected(lines: Queue[dict[str, Any]], seconds: float) -> list[dict[str, Any]]:
    """What the observer said in this time."""
    found, until_s = [], time.monotonic() + seconds
    while (left_s := until_s - time.monotonic()) > 0:
        with suppress(Empty):
            found.append(lines.get(timeout=left_s))
    return found


def hand_on(stdout: IO[str], lines: Queue[dict[str, Any]]) -> None:
    for line in stdout:
        lines.put(json.loads(line))


def rate(found: list[dict[str, Any]]) -> float:
    return sum(one["frames"] for one in found) / max(1, len(found))


def main() -> int:
    if sys.argv[1:2] == ["--program"]:
        return program(*sys.argv[2:])
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=20.0)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        top = Path(name)
        store, cables = SettingsStore(top / "data"), [PseudoTerminal(top / "valid"), PseudoTerminal(top / "garbage")]
        (top / "data").mkdir()
        for cable in cables:
            cable.plug()
            store.remember(InstrumentSettings(name=f"{cable.path.name} caliper", port=str(cable.path),
                                              format_name="length-8-unit", quantity=Quantity.LENGTH))  # fmt: skip
        command = [sys.executable, __file__, "--program", str(top / "data"), *(str(cable.path) for cable in cables)]
        child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                                 env={**os.environ, "SDL_VIDEODRIVER": "offscreen"})  # fmt: skip
        lines: Queue[dict[str, Any]] = Queue()
        assert child.stdout is not None
        reading = threading.Thread(target=hand_on, args=(child.stdout, lines))
        reading.start()
        first = lines.get(timeout=START_S)
        alone = collected(lines, args.seconds)
        stop = threading.Event()
        floods = [threading.Thread(target=flood, args=(cable, content, stop))
                  for cable, content in zip(cables, (LINES, GARBAGE), strict=True)]  # fmt: skip
        for thread in floods:
            thread.start()
        flooded = collected(lines, args.seconds)
        begun_s = time.monotonic()
        child.send_signal(signal.SIGTERM)
        try:
            child.wait(timeout=END_S)
        except subprocess.TimeoutExpired:
            child.kill()
        ended_s = time.monotonic() - begun_s
        stop.set()
        for thread in (*floods, reading):
            thread.join()
        for cable in cables:
            cable.pull()
    messages = sorted({message for one in (first, *flooded) for message in one["messages"]})
    share = rate(flooded) / max(rate(alone), 0.1)
    gap_s = max((one["gap_s"] for one in flooded), default=99.0)
    print(
        f"turns of the screen's loop a second: alone {rate(alone):.0f}, flooded {rate(flooded):.0f} ({share:.0%}), "
        f"longest gap {gap_s:.2f} s; SIGTERM: ended after {ended_s:.1f} s with {child.returncode}"
    )
    for message in messages:
        print(f"  said: {message}")
    named = all(
        any(message.startswith(f"{name} caliper: muted") for message in messages) for name in ("valid", "garbage")
    )
    return int(share < LEAST_SHARE or not named or ended_s >= END_S)


if __name__ == "__main__":
    sys.exit(main())

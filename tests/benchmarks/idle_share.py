"""Processor share of the touchscreen bench: idle, and with the simulated hand at work, against an idle bare window.

SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.idle_share [seconds] [frames a second] [rounds]
"""

import json
import os
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from tests.benchmarks.bare_window import BareLabel, begun, figures_in_turn
from ui.touch.kivy_settings import ScreenSettings

SETTLE_S = 4.0  # until every screen's module is loaded
SIDES = ("bare", "idle", "hand")


def side(name: str, seconds: float, frames_per_s: int) -> dict[str, float]:
    """Percent of a core, and frames drawn a second, of the bare window or of the bench."""
    begun(ScreenSettings(frames_per_s=frames_per_s))
    from kivy.base import EventLoop
    from kivy.core.window import Window

    from ui.start import DEFAULT_SCENARIO, BenchOptions, assembled
    from ui.touch.bench_app import BenchApp

    drawn: list[bool] = []
    with ExitStack() as stack:
        if name == "bare":
            BareLabel()
        else:
            folder = Path(stack.enter_context(TemporaryDirectory()))
            options = BenchOptions(folder=folder, scenario=DEFAULT_SCENARIO if name == "hand" else None)
            app = BenchApp(stack.enter_context(assembled(options)))
            app._run_prepare()
            stack.callback(app.stop)
        Window.bind(on_flip=lambda *_event: drawn.append(True))
        settled_s = time.monotonic() + SETTLE_S
        while time.monotonic() < settled_s:
            EventLoop.idle()
        drawn.clear()
        began_s, used_s = time.monotonic(), time.process_time()
        while time.monotonic() - began_s < seconds:
            EventLoop.idle()
        share = (time.process_time() - used_s) / (time.monotonic() - began_s)
    return {"percent": 100.0 * share, "frames": len(drawn) / seconds}


def main(seconds: float, frames_per_s: int, rounds: int) -> None:
    """Measure and print."""
    found = figures_in_turn("tests.benchmarks.idle_share", SIDES, rounds, str(seconds), str(frames_per_s))
    for name, one in found.items():
        ratio = one["percent"] / found["bare"]["percent"]
        print(
            f"{name:5} {one['percent']:5.2f} % of a core, {ratio:5.2f} times bare, {one['frames']:.1f} frames a second"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--side"]:
        print(json.dumps(side(sys.argv[2], float(sys.argv[3]), int(sys.argv[4]))), flush=True)
    else:
        given = (sys.argv[1:] + ["10", "60", "3"][len(sys.argv) - 1 :])[:3]
        main(float(given[0]), int(given[1]), int(given[2]))

"""Processor share of the touchscreen bench: idle, and while one instrument streams ten numbers a second.

SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.idle_share [seconds] [frames a second]
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

SETTLE_S = 3.0


def used_s() -> float:
    """Processor time of this process and its threads, in seconds."""
    times = os.times()
    return times.user + times.system


def main(seconds: float, frames_per_s: int) -> None:
    """Measure and print."""
    configure(ScreenSettings(frames_per_s=frames_per_s))
    from kivy.clock import Clock
    from kivy.core.window import Window

    from ui.start import DEFAULT_SCENARIO, BenchOptions, assembled
    from ui.touch.bench_app import BenchApp

    for words, scenario in (("idle, no instrument", None), ("the simulated hand at work", DEFAULT_SCENARIO)):
        drawn: list[float] = []
        figures: list[float] = []

        def begin(_elapsed_s: float, drawn: list[float] = drawn, figures: list[float] = figures) -> None:
            drawn.clear()
            figures[:] = [time.monotonic(), used_s()]

        def count(*_event: object, drawn: list[float] = drawn) -> None:
            drawn.append(1.0)

        with TemporaryDirectory() as folder, assembled(BenchOptions(folder=Path(folder), scenario=scenario)) as bench:
            app = BenchApp(bench)
            Window.bind(on_draw=count)
            Clock.schedule_once(begin, SETTLE_S)
            Clock.schedule_once(lambda _elapsed_s, app=app: app.stop(), SETTLE_S + seconds)
            app.run()
            Window.unbind(on_draw=count)
            share = (used_s() - figures[1]) / (time.monotonic() - figures[0])
        print(f"{words}: {100.0 * share:.1f} % of a core, {len(drawn) / seconds:.1f} frames drawn a second")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 15.0, int(sys.argv[2]) if len(sys.argv) > 2 else 60)

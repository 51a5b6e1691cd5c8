"""Time to the first usable screen and resident memory, against a bare one-label Kivy window in the same run.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.start_up [rounds]

Each round starts both programs anew, in turn; the medians are compared. The clock runs from before the process starts
until its first frame has been turned.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

REPORT = """
import os, time
def report(*_):
    kb = next(line for line in open('/proc/self/status') if line.startswith('VmRSS')).split()[1]
    print(time.time() - float(os.environ['BEGAN']), kb, flush=True)
    stopTouchApp()
"""

BARE = (
    "from ui.touch.app import configure; from ui.touch.kivy_settings import ScreenSettings\n"
    "configure(ScreenSettings())\n"
    "from kivy.base import runTouchApp, stopTouchApp; from kivy.clock import Clock; from kivy.uix.label import Label\n"
    + REPORT
    + """
Clock.schedule_once(lambda dt: Clock.schedule_once(report, 0), 0)
runTouchApp(Label(text='bare'))
"""
)

BENCH = (
    "from pathlib import Path\n"
    "from ui.touch.app import configure; from ui.touch.kivy_settings import ScreenSettings\n"
    "configure(ScreenSettings())\n"
    "from ui.start import BenchOptions, assembled\n"
    "from kivy.base import stopTouchApp; from kivy.clock import Clock\n"
    "from ui.touch.bench_app import BenchApp\n"
    + REPORT
    + """
with assembled(BenchOptions(folder=Path(os.environ['DATA']))) as bench:
    app = BenchApp(bench)
    app.bind(on_start=lambda *_: Clock.schedule_once(lambda dt: Clock.schedule_once(report, 0), 0))
    app.run()
"""
)


def once(program: str, folder: str) -> tuple[float, float]:
    """Seconds to the first frame, and resident memory in MB."""
    environ = os.environ | {"SDL_VIDEODRIVER": "offscreen", "BEGAN": str(time.time()), "DATA": folder}
    ended = subprocess.run([sys.executable, "-c", program], env=environ, capture_output=True, text=True, check=True)
    seconds, kb = ended.stdout.split()[-2:]
    return float(seconds), int(kb) / 1024.0


def main(rounds: int) -> None:
    """Measure and print."""
    figures: dict[str, list[tuple[float, float]]] = {"bare": [], "bench": []}
    for number in range(rounds + 1):
        for name, program in (("bare", BARE), ("bench", BENCH)):
            with TemporaryDirectory() as folder:
                measured = once(program, str(Path(folder)))
            if number:  # the first round warms the disk cache
                figures[name].append(measured)
    seconds, memory_mb = (
        {name: statistics.median(row[i] for row in rows) for name, rows in figures.items()} for i in (0, 1)
    )
    print(f"first usable screen: bare {seconds['bare']:.2f} s, bench {seconds['bench']:.2f} s")
    print(f"  ratio {seconds['bench'] / seconds['bare']:.2f}")
    print(f"resident memory: bare {memory_mb['bare']:.0f} MB, bench {memory_mb['bench']:.0f} MB")
    print(f"  ratio {memory_mb['bench'] / memory_mb['bare']:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)

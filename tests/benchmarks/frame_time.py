"""Time of a drawn frame, and the processor's share, while a caliper streams fifty changing numbers a second.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.frame_time [seconds] [frames a second]

The time of a frame runs from the end of the wait for it to a pixel of it read back: bench, screen and drawing. All
else is the lamp's run: the ordinary link on a pseudo-terminal, a coupon with nine features read, its adjustment.
"""

from __future__ import annotations

import math
import os
import sys
import threading
import time
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

import numpy as np

from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.benchmarks.idle_share import used_s
from tests.benchmarks.lamp_latency import STREAM_HZ, Run
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

SETTLE_FRAMES = 20


class MovingJaws:
    """Jaws that close on the near edge and open again, a number every fiftieth of a second."""

    def __init__(self, cable: PseudoTerminal) -> None:
        self._cable = cable
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._stream)
        self._thread.start()

    def _stream(self) -> None:
        number = 0
        while not self._stop.wait(1.0 / STREAM_HZ):
            number += 1
            self._cable.write(f"{120.0 + 1.5 * math.sin(number / 20.0):+08.3f}\r".encode())

    def close(self) -> None:
        """Let go."""
        self._stop.set()
        self._thread.join()


def main(seconds: float, frames_per_s: int) -> None:
    """Measure and print."""
    configure(ScreenSettings(frames_per_s=frames_per_s))
    from kivy.base import EventLoop
    from kivy.clock import Clock
    from kivy.core.window import Window
    from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels

    from tests.ui.offscreen import Offscreen

    with TemporaryDirectory() as name, closing(Run(Path(name), 0)) as run:
        run.prepare()
        with Offscreen(run.bench) as screen, closing(MovingJaws(run.cable)):
            screen.go("bench")
            drawn: list[bool] = []
            Window.bind(on_flip=lambda *_event: drawn.append(True))
            screen.frames(SETTLE_FRAMES)
            frames_ms: list[float] = []
            began_s, used_before_s = time.monotonic(), used_s()
            while time.monotonic() - began_s < seconds:
                drawn.clear()
                EventLoop.idle()
                if drawn:
                    glReadPixels(0, 0, 1, 1, GL_RGBA, GL_UNSIGNED_BYTE)  # waits for the renderer
                    # The clock keeps the moment at which its wait was over.
                    frames_ms.append(1000.0 * (Clock.time() - Clock.get_time()))
            share = (used_s() - used_before_s) / (time.monotonic() - began_s)
    median, p99 = np.percentile(frames_ms, [50, 99])
    print(f"frames drawn a second: {len(frames_ms) / seconds:.1f} of {frames_per_s}; {100.0 * share:.0f} % of a core")
    print(f"time of a frame: median {median:.1f} ms, 99th percentile {p99:.1f} ms, worst {max(frames_ms):.1f} ms")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0, int(sys.argv[2]) if len(sys.argv) > 2 else 60)

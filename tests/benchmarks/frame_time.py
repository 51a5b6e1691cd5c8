"""The processor's share, and the time of a frame, while a caliper streams fifty changing numbers a second.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.frame_time [seconds] [frames a second] [rounds]

Held against a bare window whose one label changes as often (`bare_window.py`), with the renderer and without, a number
that came to be seen. The bare label is told by a thread, the bench by a caliper's cable, from a process of its own:
reading and decoding it is the bench's. The time of a frame runs from the end of the wait for it to a pixel of it read
back: bench, screen and drawing. All else is the lamp's run: the ordinary link on a pseudo-terminal, a coupon with nine
features read, its adjustment.
"""

import itertools
import json
import math
import multiprocessing
import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

import numpy as np

from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.benchmarks.bare_window import BareLabel, WithoutRenderer, begun, figures_by_round, least
from tests.benchmarks.bench_on_cable import STREAM_HZ, Run
from ui.touch.kivy_settings import ScreenSettings

SETTLE_S = 4.0  # until every screen's module is loaded
SIDES = ("bare", "bench")


def jaws_mm(number: int) -> float:
    """Jaws that close on the near edge and open again, a number every fiftieth of a second."""
    return 120.0 + 1.5 * math.sin(number / 20.0)


@contextmanager
def said_by_a_thread(label: BareLabel) -> Iterator[None]:
    """The label is told of every number."""
    stop = threading.Event()

    def stream() -> None:
        for number in itertools.count():
            if stop.wait(1.0 / STREAM_HZ):
                return
            label.say(f"{jaws_mm(number):.2f}")

    thread = threading.Thread(target=stream)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


@contextmanager
def sent_by_a_caliper(cable: PseudoTerminal) -> Iterator[None]:
    """Every number comes down the cable. The caliper is a process of its own: what it costs is not the bench's."""

    def stream() -> None:
        for number in itertools.count():
            time.sleep(1.0 / STREAM_HZ)
            cable.write(f"{jaws_mm(number):+08.3f}\r".encode())

    caliper = multiprocessing.get_context("fork").Process(target=stream, daemon=True)
    caliper.start()
    try:
        yield
    finally:
        caliper.terminate()
        caliper.join()


def figures(seconds: float) -> dict[str, float]:
    """What so many seconds of frames cost."""
    from kivy.base import EventLoop
    from kivy.clock import Clock
    from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels

    window = WithoutRenderer()
    settled_s = time.monotonic() + SETTLE_S
    while time.monotonic() < settled_s:
        EventLoop.idle()
    frames_ms: list[float] = []
    seen, began_s, used_s, plain_s = window.frames, time.monotonic(), time.process_time(), window.used_s()
    while time.monotonic() - began_s < seconds:
        before = window.frames
        EventLoop.idle()
        if window.frames != before:
            glReadPixels(0, 0, 1, 1, GL_RGBA, GL_UNSIGNED_BYTE)  # waits for the renderer
            # The clock keeps the moment at which its wait was over.
            frames_ms.append(1000.0 * (Clock.time() - Clock.get_time()))
    count = window.frames - seen
    middle, p99 = np.percentile(frames_ms, [50, 99])
    return {
        "whole_ms": 1000.0 * (time.process_time() - used_s) / count,
        "plain_ms": 1000.0 * (window.used_s() - plain_s) / count,
        "median_ms": float(middle),
        "p99_ms": float(p99),
    }


def side(name: str, seconds: float, frames_per_s: int) -> dict[str, float]:
    """The figures of the bench, or of the bare window."""
    begun(ScreenSettings(frames_per_s=frames_per_s))
    if name == "bare":
        label = BareLabel()
        with said_by_a_thread(label):
            return figures(seconds)
    from tests.ui.offscreen import Offscreen

    with TemporaryDirectory() as folder, closing(Run(Path(folder), 0)) as run:
        run.prepare()
        with Offscreen(run.bench) as screen, sent_by_a_caliper(run.cable):
            screen.go("bench")
            return figures(seconds)


def main(seconds: float, frames_per_s: int, rounds: int) -> None:
    """Measure and print."""
    each = figures_by_round("tests.benchmarks.frame_time", SIDES, rounds, str(seconds), str(frames_per_s))
    found = least(each)
    for name, one in found.items():
        print(
            f"{name:5} a number shown: {one['whole_ms']:.2f} ms of processor, {one['plain_ms']:.2f} without the "
            f"renderer; time of a frame: median {one['median_ms']:.1f} ms, 99th percentile {one['p99_ms']:.1f} ms"
        )
    for words, key in (("processor", "whole_ms"), ("processor without the renderer", "plain_ms")):
        ratios = [one["bench"][key] / one["bare"][key] for one in each]
        print(
            f"{words}, bench to bare: {found['bench'][key] / found['bare'][key]:.2f} of the least; round by round, the "
            f"machine as quick for the one as for the other, {median(ratios):.2f} (median of {rounds})"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--side"]:
        print(json.dumps(side(sys.argv[2], float(sys.argv[3]), int(sys.argv[4]))), flush=True)
    else:
        given = (sys.argv[1:] + ["4", "60", "9"][len(sys.argv) - 1 :])[:3]
        main(float(given[0]), int(given[1]), int(given[2]))

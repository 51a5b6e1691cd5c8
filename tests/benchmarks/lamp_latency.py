"""From the last byte on the cable to changed lamp pixels, against a bare label that shows what the cable says.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.lamp_latency [count] [others] [busy]

`others` angle gauges stream fifty numbers a second each beside it (0 when not said); `busy` other processes keep a
core busy each meanwhile.

A caliper's line goes into a pseudo-terminal; the ordinary link, decoder, bench and screen do the rest; the pixels of
the sign beside the number are read back after every frame by glReadPixels. The bare side reads the same line in a
thread and sets a label (`bare_window.py`). Also prints one judgement, measured in the same run.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

import numpy as np

from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.benchmarks.bare_window import BareLabel, Figures, begun, figures_by_round, least
from tests.benchmarks.bench_on_cable import Run, judgement_ms
from ui.bench.bench import UNDO_S
from ui.touch.kivy_settings import ScreenSettings

FRAMES_PER_S = 60
STREAM_HZ = 50.0
SETTLE_FRAMES = 2
ROUNDS = 3
LOST_AFTER_S = 5.0
# Until every screen's module is loaded, and what was typed last cannot be taken back any more, which is drawn.
SETTLE_S = UNDO_S + 2.0
WARM_UP = 6  # readings: the renderer makes its programs when it first needs them, a letter's picture is made once
INSIDE, OUTSIDE = b"+120.000\r", b"+121.500\r"


def side(name: str, count: int, others: int) -> dict[str, float]:
    """Median and 99th percentile of the bench's latency, or of the bare label's."""
    begun(ScreenSettings(frames_per_s=FRAMES_PER_S))
    return bare_figures(count) if name == "bare" else bench_figures(count, others)


def bare_figures(count: int) -> dict[str, float]:
    """A thread reads the cable, the label says what came."""
    label = BareLabel()
    with TemporaryDirectory() as folder:
        cable = PseudoTerminal(Path(folder) / "caliper")
        cable.plug()

        def read() -> None:
            with cable.path.open("rb", buffering=0) as port:
                line = b""
                while byte := port.read(1):
                    line = b"" if byte == b"\r" else line + byte
                    if len(line) == len(INSIDE) - 1:
                        label.say(line.decode()[1:-1])

        threading.Thread(target=read, daemon=True).start()
        return percentiles(count, cable, (0, 0, 32, 32))


def bench_figures(count: int, others: int) -> dict[str, float]:
    """The whole bench, a coupon half measured."""
    from tests.ui.offscreen import Offscreen
    from ui.touch.widgets.bench_faces import LiveFace
    from ui.touch.widgets.lamp import ShapeSign

    with TemporaryDirectory() as name, closing(Run(Path(name), others)) as run:
        run.prepare()
        with Offscreen(run.bench) as screen:
            screen.app.root.go("bench")
            screen.frames_for(SETTLE_S)
            face = next(one for one in screen.app.root.walk() if isinstance(one, LiveFace))
            sign = next(one for one in face.walk() if isinstance(one, ShapeSign))
            x, y = (int(part) for part in sign.to_window(*sign.pos))
            found = percentiles(count, run.cable, (x, y, int(sign.width), int(sign.height)))
            return found | {"judgement_ms": judgement_ms(run.bench.snapshot)}


def percentiles(count: int, cable: PseudoTerminal, place: tuple[int, int, int, int]) -> dict[str, float]:
    """Of so many lines' way to pixels at this place (left, bottom, width, height), ms."""
    from kivy.base import EventLoop
    from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels

    def pixels() -> bytes:
        return bytes(glReadPixels(*place, GL_RGBA, GL_UNSIGNED_BYTE))

    taken_ms = [
        latency_ms(OUTSIDE if number % 2 == 0 else INSIDE, number % 3, cable, pixels, EventLoop.idle)
        for number in range(WARM_UP + count)
    ]
    middle, p99 = np.percentile(taken_ms[WARM_UP:], [50, 99])
    return {"median_ms": float(middle), "p99_ms": float(p99)}


def latency_ms(
    line: bytes, extra_frames: int, cable: PseudoTerminal, pixels: Callable[[], bytes], turn_frame: Callable[[], None]
) -> float:
    """Write one line and turn frames until the sign's pixels have changed."""
    for _ in range(SETTLE_FRAMES + extra_frames):
        turn_frame()
    before = pixels()
    began_s = time.perf_counter()
    cable.write(line)
    while pixels() == before:
        turn_frame()
        if time.perf_counter() - began_s > LOST_AFTER_S:
            raise SystemExit(f"{line!r} never reached the lamp")
    return 1000.0 * (time.perf_counter() - began_s)


@contextmanager
def cores_busy(count: int) -> Iterator[None]:
    """So many other processes that do nothing but work."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for one in busy:
            one.kill()
            one.wait()


def main(count: int, others: int, busy: int) -> None:
    """Measure and print."""
    with cores_busy(busy):
        each = figures_by_round("tests.benchmarks.lamp_latency", ("bare", "bench"), ROUNDS, str(count), str(others))
    found = least(each)
    print(f"last byte to changed pixel, {count} readings at {FRAMES_PER_S} frames/s, {busy} cores kept busy")
    for name, one in found.items():
        print(f"{name:5} median {one['median_ms']:5.1f} ms, 99th percentile {one['p99_ms']:5.1f} ms")
    bench, limit_ms = found["bench"], allowed_ms(found)
    by_round = median(one["bench"]["p99_ms"] / allowed_ms(one) for one in each)
    print(
        f"one judgement {bench['judgement_ms']:.2f} ms; bare and it {limit_ms:.1f} ms: {bench['p99_ms'] / limit_ms:.2f}"
        f" of it; round by round {by_round:.2f} (median)"
    )


def allowed_ms(figures: Figures) -> float:
    """The bare label's 99th percentile and one judgement."""
    return figures["bare"]["p99_ms"] + figures["bench"]["judgement_ms"]


if __name__ == "__main__":
    if sys.argv[1:2] == ["--side"]:
        print(json.dumps(side(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))), flush=True)
    else:
        main(*(int(word) for word in (sys.argv[1:] + ["200", "0", "0"][len(sys.argv) - 1 :])[:3]))

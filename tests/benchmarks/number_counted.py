"""What a number from a cable costs until it is drawn, number by number and frame by frame, against a bare label.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.number_counted [numbers] [rounds]

Counted in steps of Python's interpreter, in the link's thread and the screen's, which no other work on the machine
moves by one; and in processor time without the renderer. Each number is drawn before the next is said, so a machine
that drops frames counts the same (`frame_time.py` lets the numbers come as they do).
"""

import json
import math
import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from tests.benchmarks.bare_window import BareLabel, WithoutRenderer, begun, figures_in_turn
from tests.benchmarks.bench_on_cable import Run
from ui.touch.kivy_settings import ScreenSettings

SIDES = ("bare", "bench")
SETTLE_S = 4.0  # until every screen's module is loaded
ARRIVES_WITHIN_S = 60.0


class Steps:
    """Counts the interpreter's steps in every thread that starts after it, while it is told to."""

    def __init__(self) -> None:
        self.count = 0
        self.counting = False
        threading.settrace(self._step)
        sys.settrace(self._step)

    def _step(self, frame: FrameType, event: str, _arg: object) -> Callable[..., object]:
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        self.count += self.counting and event == "opcode"
        return self._step

    def stop(self) -> None:
        """Trace no more, so that time can be taken."""
        sys.settrace(None)
        threading.settrace(None)


def numbers(count: int) -> list[str]:
    """Jaws that close on the near edge and open again, mm."""
    return [f"{120.0 + 1.5 * math.sin(number / 20.0):+08.3f}" for number in range(count)]


def figures(say: Callable[[str], None], count: int, steps: Steps | None) -> dict[str, float]:
    """Steps of one number, or milliseconds of it."""
    from kivy.base import EventLoop

    window = WithoutRenderer()
    settled_s = time.monotonic() + SETTLE_S
    while time.monotonic() < settled_s:
        EventLoop.idle()

    def show(shown: list[str]) -> None:
        for number in shown:
            before = window.frames
            say(number)
            while window.frames == before:
                EventLoop.idle()

    show(numbers(count))  # every letter has its picture
    used_s = window.used_s()
    if steps is not None:
        steps.counting = True
    show(numbers(count))
    if steps is not None:
        steps.counting = False
        return {"steps": steps.count / count}
    return {"plain_ms": 1000.0 * (window.used_s() - used_s) / count}


def side(name: str, count: int, counted: bool) -> dict[str, float]:
    """The figures of the bench, or of the bare window."""
    steps = Steps() if counted else None
    begun(ScreenSettings())
    if name == "bare":
        label = BareLabel()
        return figures(lambda number: label.say(number[1:-1]), count, steps)
    from tests.ui.offscreen import Offscreen

    with TemporaryDirectory() as folder, closing(Run(Path(folder), 0)) as run:
        run.prepare()
        came = threading.Event()
        run.bench.subscribe(came.set)

        def say(number: str) -> None:
            came.clear()
            run.cable.write(f"{number}\r".encode())
            if not came.wait(ARRIVES_WITHIN_S):
                raise SystemExit(f"{number} never reached the bench")

        with Offscreen(run.bench) as screen:
            screen.go("bench")
            return figures(say, count, steps)


def main(count: int, rounds: int) -> None:
    """Measure and print."""
    module = "tests.benchmarks.number_counted"
    for words, key, kind in (
        ("steps of Python", "steps", "counted"),
        ("ms of processor, without the renderer", "plain_ms", "timed"),
    ):
        found = figures_in_turn(module, SIDES, 1 if kind == "counted" else rounds, str(count), kind)
        bare, bench = found["bare"][key], found["bench"][key]
        print(f"a number shown, {words}: bare {bare:.2f}, bench {bench:.2f}; bench to bare {bench / bare:.2f}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--side"]:
        print(json.dumps(side(sys.argv[2], int(sys.argv[3]), sys.argv[4] == "counted")), flush=True)
    else:
        main(*(int(word) for word in (sys.argv[1:] + ["126", "3"][len(sys.argv) - 1 :])[:2]))

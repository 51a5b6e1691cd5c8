"""The bare counterpart of the screen's benchmarks: Kivy's window with one label as large as the bench's digits.

Each side of a comparison runs in a process of its own, in turn with the other, so that other work on the machine hits
both alike; ratios of what they print hold on any machine.
"""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from core.loading import loading
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

FIGURE_PX = 84 / 0.711  # the size of the bench's digits


Figures = dict[str, dict[str, float]]  # by side, by name


def figures_by_round(module: str, sides: Iterable[str], rounds: int, *words: str) -> list[Figures]:
    """What `python -m module --side SIDE words...` prints as JSON, each side in turn, round by round."""
    environ = {"SDL_VIDEODRIVER": "offscreen", **os.environ}

    def of(side: str) -> dict[str, float]:
        command = [sys.executable, "-m", module, "--side", side, *words]
        ended = subprocess.run(command, env=environ, stdout=subprocess.PIPE, text=True, check=True)
        figures: dict[str, float] = json.loads(ended.stdout.splitlines()[-1])
        return figures

    return [{side: of(side) for side in sides} for _ in range(rounds)]


def least(rounds: list[Figures]) -> Figures:
    """The least of each figure."""
    return {
        side: {name: min(one[side][name] for one in rounds) for name in figures} for side, figures in rounds[0].items()
    }


def figures_in_turn(module: str, sides: Iterable[str], rounds: int, *words: str) -> Figures:
    """The least of each figure in so many rounds."""
    return least(figures_by_round(module, sides, rounds, *words))


def begun(settings: ScreenSettings) -> None:
    """What a start of the bench does before it makes its window, for either side."""
    with loading():
        configure(settings)


class BareLabel:
    """The window with its label; `say` may be called from any thread, as the bench is told of a number."""

    def __init__(self) -> None:
        from kivy.base import runTouchApp
        from kivy.clock import Clock
        from kivy.graphics import Color, Rectangle
        from kivy.uix.label import Label

        self._text = ""
        self._label = Label(text="bare", font_size=FIGURE_PX)
        with self._label.canvas.before:
            self._ground = Color(0, 0, 0, 1)
            Rectangle(size=(40, 40))
        self._trigger = Clock.create_trigger(self._show)
        runTouchApp(self._label, embedded=True)

    def say(self, text: str) -> None:
        """Have another text shown, and the patch in the corner lighter or darker where the number is another."""
        self._text = text
        self._trigger()

    def _show(self, _elapsed_s: float) -> None:
        self._label.text = self._text
        self._ground.r = 1.0 if self._text.startswith("121") else 0.0


class WithoutRenderer:
    """Processor seconds of this process less those of drawing, which a graphics chip does on a board: the renderer's
    own threads, and what this thread is at while the window is drawn and turned."""

    def __init__(self) -> None:
        from kivy.core.window import Window

        self.frames = 0
        self._drawing_s = 0.0
        Window.on_draw, Window.on_flip = self._timed(Window.on_draw), self._timed(Window.on_flip)
        Window.bind(on_flip=self._count)

    def used_s(self) -> float:
        """Since the process began."""
        return time.process_time() - self._drawing_s - _renderer_s()

    def _count(self, *_event: object) -> None:
        self.frames += 1

    def _timed(self, draw: Callable[[], object]) -> Callable[[], object]:
        def timed() -> object:
            begun_s = time.thread_time()
            try:
                return draw()
            finally:
                self._drawing_s += time.thread_time() - begun_s

        return timed


def _renderer_s() -> float:
    """What the software renderer's threads have used."""
    tasks = list(Path("/proc/self/task").iterdir())
    drawing = [task for task in tasks if (task / "comm").read_text(encoding="ascii").startswith("llvmpipe")]
    return sum(int((task / "schedstat").read_text(encoding="ascii").split()[0]) for task in drawing) / 1e9

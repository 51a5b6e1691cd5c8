"""The same program beside the board, on a screen in memory: it is touched first, and says where the finger goes and
what the panel shall show then. On the board itself nothing is added, so that it is tried as it is installed."""

from __future__ import annotations

import os

os.environ["SDL_VIDEODRIVER"] = "offscreen"

from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np

from tests.endurance.board.emulated import Board, same_share
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

WIDTH, HEIGHT = 800, 480
# The panel's picture is the twin's but for the clock, edges, and what is plugged into one of the two only.
ALIKE = 0.9996


class Twin:
    """The bench on a folder of its own."""

    def __init__(self, folder: Path) -> None:
        configure(ScreenSettings(width_px=WIDTH, height_px=HEIGHT, frames_per_s=60))
        self._folder = folder
        self._stack = ExitStack()
        self._begin()

    def again(self) -> None:
        """Ended and started again, as the board is when its plug was pulled."""
        self._stack.close()
        self._stack = ExitStack()
        self._begin()

    def end(self) -> None:
        """Closed: what it started has ended."""
        self._stack.close()

    def _begin(self) -> None:
        from tests.ui.offscreen import Offscreen
        from ui.start import BenchOptions, assembled
        from ui.state.settings import SettingsFile

        self.bench = self._stack.enter_context(assembled(BenchOptions(folder=self._folder)))
        # As the board does at its first start, and not any more once something was chosen.
        asks_language = SettingsFile(self._folder).is_new
        self.screen = self._stack.enter_context(Offscreen(self.bench, asks_language=asks_language))
        self.screen.frames_for(3.0)

    def place(self, words: str) -> tuple[int, int]:
        """Where these words stand, px from the upper left: a feature of the coupon's drawing, or the words alone."""
        from core.geometry.features import TEN_FEATURES
        from tests.ui.touching import feature_place, find_text

        labels = {str(feature.label): feature for feature in TEN_FEATURES}
        if words in labels and self.screen.app.root.screen.name == "bench":
            x, y = feature_place(self.screen, labels[words])
            return round(x), round(HEIGHT - 1 - y)
        buttons = [button for button in self._buttons() if _words_of(button) == words]
        widget = buttons[0] if len(buttons) == 1 else find_text(self.screen, words)
        x, y = widget.to_window(*widget.center)
        return round(x), round(HEIGHT - 1 - y)

    def whole(self, beginning: str) -> str:
        """All the words of the one button that begins so."""
        (words,) = {words for words in map(_words_of, self._buttons()) if words.startswith(beginning)}
        return words

    def touch(self, x: int, y: int) -> None:
        """A finger on the twin, and its screen at rest again."""
        self.screen.tap(x, HEIGHT - 1 - y)
        self.screen.frames_for(1.0)

    @property
    def is_typing(self) -> bool:
        """Whether its keypad is up."""
        return bool(self.screen.app.root.screen.typing)

    def pixels(self) -> np.ndarray:
        """What it shows."""
        return self.screen.pixels()

    def _buttons(self) -> list[Any]:
        from kivy.uix.behaviors import ButtonBehavior

        from tests.ui.touching import shown_widgets

        return [widget for widget in shown_widgets(self.screen) if isinstance(widget, ButtonBehavior)]


def _words_of(button: Any) -> str:
    return " ".join(str(part.text) for part in button.walk(restrict=True) if getattr(part, "text", ""))


class Person:
    """Touches the board where the twin has the words, and waits until the panel shows what the twin shows."""

    def __init__(self, board: Board, twin: Twin) -> None:
        self.board, self.twin = board, twin
        self.touches = 0

    def sees(self, name: str = "", *, alike: float = ALIKE) -> None:
        """The panel shows what the twin shows."""
        self.twin.screen.frames_for(0.5)

        def holds() -> bool:
            return same_share(self.board.picture(name), self.twin.pixels()) >= alike

        try:
            self.board.until(f"the picture {name!r}", holds)
        except AssertionError:
            self.twin.screen.save(self.board.pictures / "twin.png")
            raise

    def tap(self, words: str, name: str = "", *, alike: float = ALIKE, verb: str = "tap") -> None:
        """Touch these words, on the twin and on the board, and see the same come."""
        x, y = self.twin.place(words)
        self.twin.touch(x, y)
        self.board.ask(verb, str(x), str(y))
        self.touches += 1
        self.sees(name, alike=alike)
        print(f"  touched {words!r} at {x}, {y}", flush=True)

    def key_in(self, feature: str, digits: str) -> None:
        """One reading, on the keypad, which stays once it is there."""
        self.tap(feature)
        if not self.twin.is_typing:
            self.tap("Type")
        for digit in digits:
            self.tap(digit)
        self.tap("Take reading")

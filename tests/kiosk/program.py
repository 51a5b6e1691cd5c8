"""The real program as it runs on the panel, with a window for the test to look in: started by test_kiosk.py.

Usage: program.py FOLDER. Everything of the program is as installed; beside it, some times a second, FOLDER/state.json
says what stands where on the screen (px from the upper left, as the person sees it), which touches arrived and when,
and what the bench holds.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from core.said import Part, worded
from ui.pages.theme import TOUCH_GUARD_S

if TYPE_CHECKING:
    from core.geometry.features import Feature
    from ui.touch.shell import Shell  # opens its window when it is imported
    from ui.touch.widgets.figure_geometry import Figure


class Window:
    """Looks at the screen of the running program."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._touches: list[tuple[int, int]] = []
        self._keys = 0
        self._listening = False
        self._looks = 0
        self._screen = ""
        self._begin_s = time.monotonic()

    def look(self, _elapsed_s: float) -> None:
        """Write down what is in sight."""
        from kivy.app import App

        app = App.get_running_app()
        if app is None or app.root is None:
            return
        from kivy.core.window import Window as Screen

        if not self._listening:
            # Bound last and so asked first: even a touch that only wakes the panel is seen.
            Screen.bind(on_touch_down=self._down, on_touch_up=self._up, on_key_down=self._key)
            self._listening = True
        if app.root.screen.name != self._screen:
            self._screen = app.root.screen.name
            self._log(f"screen {self._screen}")
        snapshot = app.snapshot
        self._looks += 1
        state = {
            "look": self._looks,
            "screen": self._screen,
            "size": list(Screen.size),
            "rotation": Screen.rotation,
            "buttons": self._buttons(app.root, Screen.height),
            "texts": [
                _read(widget.text) for widget in app.root.walk() if getattr(widget, "text", "") and widget.opacity
            ],
            "entry": str(getattr(app.root.screen, "entry_text", "")),
            "typing": getattr(app.root.screen, "typing", False),
            "seen": _was_seen(app.root),
            "touches": len(self._touches),
            "last_touch": self._touches[-1:],
            "keys": self._keys,
            "values": [one.reading.value for one in snapshot.readings],
            "verdict": snapshot.verdict and snapshot.verdict.value,
            "closed": snapshot.closed,
            "asleep": app._sleep.is_asleep,
            "ground": [round(255 * part) for part in app.palette.paper[:3]],
        }
        fresh = self._folder / "state.new"
        fresh.write_text(json.dumps(state), encoding="utf-8")
        fresh.replace(self._folder / "state.json")

    def _down(self, screen: object, touch: object) -> bool:
        place = (round(touch.x), round(screen.height - 1 - touch.y))
        self._touches.append(place)
        self._log(f"down {place}, {time.time() - touch.time_start:.3f} s after the finger")
        return False

    def _up(self, _screen: object, touch: object) -> bool:
        self._log(f"up, {time.time() - touch.time_end:.3f} s after the finger")
        return False

    def _key(self, _screen: object, key: int, *_more: object) -> bool:
        self._keys += 1
        self._log(f"key {key}")
        return False

    def _log(self, words: str) -> None:
        with (self._folder / "events").open("a", encoding="utf-8") as log:
            log.write(f"{time.monotonic() - self._begin_s:9.3f} s  {words}\n")

    def _buttons(self, root: object, height: float) -> list[tuple[str, int, int]]:
        """What can be touched: every button in sight, and each feature of the coupon's drawing."""
        from kivy.uix.behaviors import ButtonBehavior

        from core.geometry.features import TEN_FEATURES
        from ui.touch.widgets.coupon_figure import CouponFigure

        found: list[tuple[str, int, int]] = []
        for widget in root.walk():
            if isinstance(widget, CouponFigure) and widget.figure is not None:
                places = [(str(feature.label), _touched_at(widget.figure, feature)) for feature in TEN_FEATURES]
                found += [(words, *widget.to_window(widget.x + x, widget.y + y)) for words, (x, y) in places]
            elif isinstance(widget, ButtonBehavior) and widget.opacity > 0 and not getattr(widget, "disabled", False):
                words = [_read(part.text) for part in widget.walk(restrict=True) if getattr(part, "text", "")]
                found.append((" ".join(words), *widget.to_window(*widget.center)))
        return [(words, round(x), round(height - 1 - y)) for words, x, y in found]


def _read(text: Part | str) -> str:
    """What stands there in plain English, a sentence or a quantity."""
    return text if isinstance(text, str) else worded(text)


def _touched_at(figure: Figure, feature: Feature) -> tuple[float, float]:
    """Where a finger means this feature: its corner, or a place on its line."""
    if not feature.is_length:
        return figure.corner(feature)
    (x, y), (to_x, to_y) = figure.span(feature)
    part = 0.25 if feature.kind.value == "diagonal" else 0.5
    return x + part * (to_x - x), y + part * (to_y - y)


def _was_seen(shell: Shell) -> bool:
    """Whether a touch counts by now: what is in sight has been on the panel long enough for a person to see it."""
    sight = shell._sight
    return sight._since_s is not None and time.monotonic() - sight._since_s > TOUCH_GUARD_S


def attach(window: Window) -> None:
    """Look some times a second as soon as the program runs. From beside it: Kivy's clock and window are made by their
    first import, and as the program configures them."""
    while True:
        app = getattr(sys.modules.get("kivy.app"), "App", None)
        if app is not None and app.get_running_app() is not None:
            break
        time.sleep(0.1)
    from kivy.clock import Clock

    Clock.schedule_interval(window.look, 0.2)


def run(folder: Path) -> int:
    """The program, and the look at it."""
    from ui.command_line.cli import main

    window = Window(folder)  # Kivy's clock keeps no object alive
    threading.Thread(target=attach, args=(window,), daemon=True).start()
    return main(["--data", str(folder / "data")])


if __name__ == "__main__":
    sys.exit(run(Path(sys.argv[1])))

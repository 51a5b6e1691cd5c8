"""The real program as it runs on the panel, with a window for the test to look in: started by test_kiosk.py.

Usage: program.py FOLDER. Everything of the program is as installed; beside it, some times a second, FOLDER/state.json
says which words stand where on the screen (px from the upper left), how many touches arrived, and what the bench holds.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from ui.kivy_settings import set_environment


class Window:
    """Looks at the screen of the running program."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._touches: list[tuple[int, int]] = []
        self._counting = False
        self._looks = 0

    def look(self, _elapsed_s: float) -> None:
        from kivy.app import App

        app = App.get_running_app()
        if app is None or app.root is None:
            return
        from kivy.core.window import Window as Screen

        if not self._counting:
            Screen.bind(on_touch_down=self._count)
            self._counting = True
        snapshot = app.snapshot
        self._looks += 1
        state = {
            "look": self._looks,
            "screen": app.root.screen.name,
            "size": list(Screen.size),
            "words": self._words(app.root, Screen.height),
            "touches": len(self._touches),
            "last_touch": self._touches[-1:],
            "values": [reading.value for reading in snapshot.readings],
            "verdict": snapshot.verdict and snapshot.verdict.value,
            "closed": snapshot.closed,
            "corner": snapshot.next_corner and snapshot.next_corner.label,
        }
        fresh = self._folder / "state.new"
        fresh.write_text(json.dumps(state), encoding="utf-8")
        fresh.replace(self._folder / "state.json")

    def _count(self, screen: object, touch: object) -> bool:
        self._touches.append((round(touch.x), round(screen.height - touch.y)))
        return False

    def _words(self, root: object, height: float) -> list[tuple[str, int, int]]:
        found = []
        for widget in root.walk():
            text = getattr(widget, "text", "")
            if text and widget.opacity > 0 and not getattr(widget, "disabled", False):
                x, y = widget.to_window(*widget.center)
                found.append((text, round(x), round(height - y)))
        return found


def run(folder: Path) -> int:
    """The program, and the look at it."""
    set_environment()  # as the program does, before anything of Kivy is imported
    from kivy.clock import Clock

    from ui.cli import main

    window = Window(folder)  # Kivy's clock keeps no object alive
    Clock.schedule_interval(window.look, 0.2)
    return main(["--data", str(folder / "data")])


if __name__ == "__main__":
    sys.exit(run(Path(sys.argv[1])))

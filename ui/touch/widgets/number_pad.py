"""Twelve keys for numbers: figures, the point, delete."""

from __future__ import annotations

from kivy.app import App
from kivy.uix.gridlayout import GridLayout

from ui.pages.keypad import BACKSPACE
from ui.touch.widgets.basics import KeyButton

POINT = "."
KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", POINT, "0", BACKSPACE)
_WORDS = {BACKSPACE: "delete"}


class NumberPad(GridLayout):
    """Dispatches `on_key` with a figure, '.' or BACKSPACE."""

    __events__ = ("on_key",)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(cols=3, **kwargs)
        for key in KEYS:
            button = KeyButton(text=_WORDS.get(key, key), repeats=True, size_hint_y=1)
            button.type_px = 20 if key in _WORDS else 32
            button.fbind("on_release", lambda _button, key=key: self.dispatch("on_key", key))
            self.add_widget(button)
            if key == POINT:
                self._point = button
        App.get_running_app().bind(notation=self._mark)
        self._mark()

    def _mark(self, *_changed: object) -> None:
        """The key of the point shows the decimal mark that was chosen."""
        self._point.text = App.get_running_app().notation.entry(POINT)

    def on_key(self, key: str) -> None:
        """A key was pressed."""

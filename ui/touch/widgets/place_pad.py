"""The bed as buttons: every place of a grid, the far row above, as it is seen from the front of the machine."""

from __future__ import annotations

from kivy.app import App
from kivy.properties import ObjectProperty, StringProperty
from kivy.uix.gridlayout import GridLayout

from ui.touch.widgets.basics import KeyButton


class PlacePad(GridLayout):
    """`rows_of_places` are (name, words) by row; dispatches `on_place` with the name touched."""

    __events__ = ("on_place",)
    rows_of_places = ObjectProperty(())
    chosen = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self.spacing = 6 * App.get_running_app().scale
        for name in ("rows_of_places", "chosen"):
            self.fbind(name, self._fill)

    def _fill(self, *_changed: object) -> None:
        self.clear_widgets()
        if not self.rows_of_places:
            return
        self.cols = len(self.rows_of_places[0])
        for name, words in (place for row in self.rows_of_places for place in row):
            button = KeyButton(text=words, main=name == self.chosen, size_hint_y=1, halign="center")
            button.type_px = 16
            button.fbind("on_release", lambda _button, name=name: self.dispatch("on_place", name))
            self.add_widget(button)

    def on_place(self, name: str) -> None:
        """A place was touched."""

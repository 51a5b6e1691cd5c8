"""A few words side by side or stacked, one of them chosen."""

from kivy.app import App
from kivy.properties import BooleanProperty, ListProperty, NumericProperty, StringProperty
from kivy.uix.gridlayout import GridLayout

from ui.touch.widgets.basics import KeyButton


class ChoiceRow(GridLayout):
    """`choices` are (stable name, words on the button); the chosen one is filled. Dispatches `on_choose`."""

    __events__ = ("on_choose",)
    choices = ListProperty()
    chosen = StringProperty("")
    row_height = NumericProperty(0.0)  # of each button, px; 0 leaves it as every key is
    small = BooleanProperty(False)  # three lines on each button

    def __init__(self, **kwargs: object) -> None:
        kwargs.setdefault("rows", 1)
        super().__init__(**kwargs)
        self._buttons: dict[str, KeyButton] = {}

    def on_choose(self, name: str) -> None:
        """A choice was touched."""

    def on_choices(self, *_changed: object) -> None:
        """Put up one button a choice; where others stood, they must be seen before a touch counts."""
        if self._buttons:
            App.get_running_app().root.panel_changed()
        self.clear_widgets()
        self._buttons.clear()
        for name, words in self.choices:
            button = KeyButton(text=words, main=name == self.chosen, small=self.small)
            button.fbind("on_release", lambda _button, name=name: self.dispatch("on_choose", name))
            if self.row_height:
                button.height = self.row_height
            self._buttons[name] = button
            self.add_widget(button)

    def on_chosen(self, *_changed: object) -> None:
        """Fill the chosen one."""
        for name, button in self._buttons.items():
            button.main = name == self.chosen

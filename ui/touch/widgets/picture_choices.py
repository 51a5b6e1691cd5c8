"""Answers as pictures: each a button with its drawing and its words below."""

import math
from pathlib import Path

from kivy.app import App
from kivy.lang import Builder
from kivy.properties import ListProperty, ObjectProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout

from ui.touch.widgets.basics import Framed

# As many side by side as a gloved finger tells apart, upright and lying.
_MOST_ACROSS = {False: 5, True: 3}
_FEW = 4


def _columns(count: int, *, portrait: bool) -> int:
    """How many stand side by side: few in a row, else rows as even as they can be."""
    if count <= _FEW:
        return max(1, min(count, 2 if portrait else _FEW))
    rows = math.ceil(count / _MOST_ACROSS[portrait])
    return math.ceil(count / rows)


class PictureChoice(ButtonBehavior, Framed, BoxLayout):
    """One answer."""

    picture = ObjectProperty(())
    words = ObjectProperty("")


class PictureChoices(GridLayout):
    """`choices` are (stable name, picture, words). Dispatches `on_choose` with the name touched."""

    __events__ = ("on_choose",)
    choices = ListProperty()

    def __init__(self, **kwargs: object) -> None:
        super().__init__(cols=1, **kwargs)

    def on_choose(self, name: str) -> None:
        """An answer was touched."""

    def on_choices(self, *_changed: object) -> None:
        """Put up one button an answer; where others stood, they must be seen before a touch counts."""
        if self.children:
            App.get_running_app().root.panel_changed()
        self.clear_widgets()
        self.cols = _columns(len(self.choices), portrait=App.get_running_app().portrait)
        for name, picture, words in self.choices:
            choice = PictureChoice(picture=picture, words=words)
            choice.fbind("on_release", lambda _choice, name=name: self.dispatch("on_choose", name))
            self.add_widget(choice)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

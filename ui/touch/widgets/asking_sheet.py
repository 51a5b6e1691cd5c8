"""A lamp, what there is to say, and below it what may be touched: screens that ask before they do something."""

from __future__ import annotations

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import ListProperty, ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING
from ui.pages.theme import Shape
from ui.touch.widgets.basics import Ink  # noqa: F401 - named in the kv file
from ui.touch.widgets.choice_row import ChoiceRow  # noqa: F401 - named in the kv file
from ui.touch.widgets.lamp import Lamp  # noqa: F401 - named in the kv file


class AskingSheet(BoxLayout):
    """`choices` are (stable name, words), the way on first; dispatches `on_choose` with the name."""

    __events__ = ("on_choose",)
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    text = ObjectProperty(NOTHING)
    choices = ListProperty()

    def on_choose(self, name: str) -> None:
        """A choice was touched."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

"""A lamp, what there is to say, and below it what may be touched: screens that ask before they do something."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from ui.pages.errand import ErrandPage
from ui.touch.widgets.basics import Ink  # noqa: F401 - named in the kv file
from ui.touch.widgets.choice_row import ChoiceRow  # noqa: F401 - named in the kv file
from ui.touch.widgets.lamp import Lamp  # noqa: F401 - named in the kv file


class AskingSheet(BoxLayout):
    """Shows an ErrandPage; dispatches `on_choose` with the name of a choice."""

    __events__ = ("on_choose",)
    page = ObjectProperty(ErrandPage(), rebind=True)

    def on_choose(self, name: str) -> None:
        """A choice was touched."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

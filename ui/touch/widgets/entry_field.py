"""A framed number being keyed in, with its name and unit; touched, it becomes the one the keys go to."""

from __future__ import annotations

from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout

from ui.touch.widgets.digits import Digits  # noqa: F401 - named in the kv file


class EntryField(ButtonBehavior, BoxLayout):
    """`active` while the keys go to it."""

    name = StringProperty("")
    text = StringProperty("")
    unit = StringProperty("")
    active = BooleanProperty(False)
    digit_px = NumericProperty(40)

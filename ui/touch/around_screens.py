"""What stands around the screens but never on the bench as it comes up: the line below them, and what `?` shows."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import ObjectProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING
from ui.touch.widgets.basics import Ink  # noqa: F401 - named in the kv file


class Footer(BoxLayout):
    """The message line with its keys, below every screen but the bench; `shell` says what stands on it."""

    shell = ObjectProperty(None)


class HelpSheet(ButtonBehavior, BoxLayout):
    """What `?` shows: one drawing and three lines; a touch anywhere takes it away."""

    picture = ObjectProperty(())
    sentences = ObjectProperty((NOTHING, NOTHING, NOTHING))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

"""Home: the last verdict, the one thing to do next, and the doors to everything else."""

from __future__ import annotations

from kivy.properties import ObjectProperty, StringProperty

from ui.pages.home import home_page
from ui.pages.theme import Shape
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen, doors
from ui.touch.widgets.basics import KeyButton


class HomeScreen(BenchScreen):
    """Keeps nothing."""

    screen_name = "home"
    heading = "Home"
    shape = ObjectProperty(Shape.RING)
    word = StringProperty("")
    caption = ObjectProperty("")
    story = ObjectProperty("")
    next_text = StringProperty("")
    next_screen = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name, words in doors(self.snapshot):
            button = KeyButton(text=words, size_hint_y=1)
            button.fbind("on_release", lambda _button, name=name: self.go(name))
            self.ids.doors.add_widget(button)

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        view = home_page(snapshot)
        self.shape, self.word, self.caption = view.shape, view.word, view.caption
        self.story, self.next_text, self.next_screen = view.story, view.next_text, view.next_screen

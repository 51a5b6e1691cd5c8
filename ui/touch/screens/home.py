"""Home: the last verdict, the one thing to do next, and the menu of everything else."""

from __future__ import annotations

from kivy.properties import ObjectProperty, StringProperty

from ui.pages.home import home_page
from ui.pages.theme import Shape
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen


class HomeScreen(BenchScreen):
    """Keeps nothing."""

    screen_name = "home"
    heading = "Bench"
    shape = ObjectProperty(Shape.RING)
    word = StringProperty("")
    caption = ObjectProperty("")
    story = ObjectProperty("")
    next_text = StringProperty("")
    next_screen = StringProperty("")

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        view = home_page(snapshot)
        self.shape, self.word, self.caption = view.shape, view.word, view.caption
        self.story, self.next_text, self.next_screen = view.story, view.next_text, view.next_screen

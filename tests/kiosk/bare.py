"""A window of Kivy's own with one word in it, set up as the bench's is: what an idle program costs at the least."""

from __future__ import annotations

from pathlib import Path

from ui.touch.app import configure
from ui.touch.kivy_settings import settings_of_this_machine


def run() -> None:
    """Show it until killed."""
    configure(settings_of_this_machine(0))
    from kivy.app import App
    from kivy.clock import Clock
    from kivy.uix.label import Label

    class Bare(App):
        """One word."""

        def build(self) -> Label:
            """The word."""
            return Label(text="bare")

    # Once frames are turning it says so, in the folder it was started in.
    Clock.schedule_once(lambda _elapsed_s: Path("up").touch(), 2.0)
    Bare().run()


if __name__ == "__main__":
    run()

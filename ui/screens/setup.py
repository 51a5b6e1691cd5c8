"""Setup: theme, rotation, the clock, and switching the instrument off so that nothing is lost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kivy.app import App
from kivy.lang import Builder
from kivy.properties import StringProperty

from core import SOFTWARE
from ui.kivy_settings import ROTATIONS_DEG
from ui.screens.screen import BenchScreen
from ui.snapshot import Snapshot
from ui.widgets.choice_row import ChoiceRow  # noqa: F401 - named in the kv file

LIGHT_NAME, DARK_NAME = "light", "dark"
OFF, STAY, ASK_OFF, CLOCK = "off", "stay", "ask-off", "clock"


class SetupScreen(BenchScreen):
    """Keeps the wish to switch off until it is confirmed, and what came of it."""

    heading = "Setup"
    parent_screen = "home"
    text = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._asked_off = False
        self._outcome = ""
        self.ids.theme.choices = [(LIGHT_NAME, "Light"), (DARK_NAME, "Dark")]
        self.ids.rotation.choices = [(str(angle), f"{angle}°") for angle in ROTATIONS_DEG]

    def on_pre_enter(self) -> None:
        """Ask anew every time."""
        self._asked_off, self._outcome = False, ""

    def show(self, snapshot: Snapshot) -> None:
        """Draw what is chosen."""
        app = App.get_running_app()
        self.ids.theme.chosen = DARK_NAME if app.settings.dark else LIGHT_NAME
        self.ids.rotation.chosen = str(app.settings.rotation_deg)
        if app.switch_off is None:
            self.text = self._outcome or f"{SOFTWARE}. Close the window to end."
            self.ids.off.choices = []
        elif self._asked_off:
            self.text = "Switch the instrument off? Every accepted reading is on the card; the coupon goes on later."
            self.ids.off.choices = [(OFF, "Switch off"), (STAY, "Stay on")]
        else:
            self.text = self._outcome or SOFTWARE
            clock = [(CLOCK, "Set the clock")] if app.set_clock else []
            self.ids.off.choices = [*clock, (ASK_OFF, "Switch off")]

    def choose_theme(self, name: str) -> None:
        """Light or dark."""
        app = App.get_running_app()
        self._outcome = app.choose(replace(app.settings, dark=name == DARK_NAME))
        self.refresh()

    def choose_rotation(self, angle: str) -> None:
        """How the panel is built in."""
        app = App.get_running_app()
        self._outcome = app.choose(replace(app.settings, rotation_deg=int(angle)))
        self.refresh()

    def answer(self, name: str) -> None:
        """Ask first; then switch off, or stay."""
        if name == CLOCK:
            self.go("clock")
            return
        self._asked_off = name == ASK_OFF
        if name == OFF:
            self._outcome = App.get_running_app().switch_off()
        self.refresh()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

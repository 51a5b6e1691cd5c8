"""The clock, set by touch: for an instrument without network, which starts with no idea of the time."""

from kivy.app import App
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from core.said import Part, said
from ui.pages.clock import moment, press, remark, shown
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Circle, Role, line
from ui.touch.screen import BenchScreen


class ClockScreen(BenchScreen):
    """Keeps the figures keyed in."""

    screen_name = "clock"
    heading = said("Set the clock")
    parent_screen = "setup"
    help = Help(
        (
            Circle(centre=(50, 50), radius=38.0, width=4.0),
            line((50, 50), (50, 76), width=5.0),
            line((50, 50), (68, 42), role=Role.ACT, width=5.0),
        ),
        (
            said("Year, month, day, hour, minute."),
            said("Records keep their order whatever the clock says."),
            said("A network sets it by itself."),
        ),
    )
    entry_text = StringProperty("")
    remark = ObjectProperty("")
    ready = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._figures = ""
        self._edit("")

    def on_pre_enter(self) -> None:
        """Begin anew."""
        self._edit("")

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._edit(press(self._figures, key))

    def set(self) -> None:
        """Have the clock set, and say what came of it."""
        when = moment(self._figures)
        if when is not None:
            self._edit("")
            self.remark = said("Setting the clock.")
            set_clock = App.get_running_app().set_clock
            self.in_background(lambda: set_clock(when), self._came_of_it)

    def _came_of_it(self, outcome: Part) -> None:
        self.remark = outcome

    def _edit(self, figures: str) -> None:
        self._figures = figures
        self.entry_text, self.remark = shown(figures), remark(figures)
        self.ready = moment(figures) is not None

"""One cable: every setting of it as it is, changed by touch, and what is heard under it right beside."""

from kivy.properties import BooleanProperty, ObjectProperty

from core.errors import BadInputError
from core.said import lines, said
from firmware_bridge import InstrumentSettings
from ui.bench import HoldReadings, UseInstrument
from ui.pages.cable import NO_CABLE, cable_on, cable_page, command_of, first_path, first_settings, taken_names
from ui.pages.cable_settings import changed, choices_of, names_of, title_of, value_of
from ui.pages.instruments import NONE_FOUND
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Role, box, frame, line
from ui.touch.screen import BenchScreen


class CableScreen(BenchScreen):
    """Keeps which port it is, the setting in sight, and what was chosen for a port that is not in use yet."""

    screen_name = "cable"
    heading = said("Cable")
    parent_screen = "instruments"
    help = Help(
        (
            line((6, 50), (30, 50), width=5.0),
            box(30, 38, 20, 24),
            box(50, 42, 8, 4),
            box(50, 54, 8, 4),
            frame(66, 30, 26, 40, line=4.0),
            box(72, 42, 8, 4, Role.QUIET),
            box(72, 54, 8, 4, Role.QUIET),
        ),
        (
            said("How this cable is spoken to."),
            said("Move the instrument: the number below must follow."),
            said("As recognised takes every change back."),
        ),
    )
    title = ObjectProperty("")
    heard = ObjectProperty("")
    refused = ObjectProperty("")
    setting = ObjectProperty("")
    in_use = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._path = ""
        self._shown = "format"
        self._draft: InstrumentSettings | None = None

    def on_pre_enter(self) -> None:
        """The port that was touched, else the first there is. What comes down the cable while it is set up must not
        pass for a reading."""
        self._path = self.looked_at() or self._path or first_path(self.snapshot)
        self._shown, self._draft, self.refused = "format", None, ""
        self.send(HoldReadings(held=True))

    def on_pre_leave(self) -> None:
        """What comes down the cables means the coupon again."""
        self.send(HoldReadings(held=False))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot; without a cable there is nothing to set."""
        if not self._path:
            self.title, self.heard = NO_CABLE, NONE_FOUND
            return
        page = cable_page(snapshot, self._path, self._draft)
        settings = self._settings(snapshot)
        self.title, self.heard, self.in_use = page.title, lines(*page.heard), page.in_use
        if self._shown not in names_of(settings):
            self._shown = "format"
        self.setting = title_of(self._shown)
        self.ids.rows.chosen = self._shown
        self.ids.rows.choices = [
            (row.name, lines(said("{setting}: {value}", setting=row.title, value=row.value), row.origin))
            for row in page.rows
        ]
        self.ids.choices.chosen = value_of(settings, self._shown)
        self.ids.choices.choices = list(choices_of(settings, self._shown))
        self.ids.actions.chosen = "" if page.in_use else "use"
        self.ids.actions.choices = list(page.actions)

    def _settings(self, snapshot: Snapshot) -> InstrumentSettings:
        cable = cable_on(snapshot, self._path)
        return cable.settings if cable else self._draft or first_settings(snapshot, self._path)

    def turn_to(self, name: str) -> None:
        """Bring a setting into sight."""
        self._shown, self.refused = name, ""
        self.ids.scroll.scroll_y = 1
        self.refresh()

    def choose(self, value: str) -> None:
        """A value was touched: used at once where the cable is in use, kept for it where it is not."""
        snapshot, self.refused = self.snapshot, ""
        before = self._settings(snapshot)
        if value == value_of(before, self._shown):
            return
        try:
            after = changed(before, self._shown, value, taken_names(snapshot))
        except BadInputError as error:
            self.refused = error.what
            return
        if cable_on(snapshot, self._path) is None:
            self._draft = after
            self.refresh()
        else:
            self.send(UseInstrument(settings=after, by_hand=True))

    def act(self, name: str) -> None:
        """An action was touched."""
        command = command_of(self.snapshot, self._path, self._draft, name)
        if command is not None:
            self.send(command)

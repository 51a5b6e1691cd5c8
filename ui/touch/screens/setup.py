"""Setup: what the person chooses for this bench, the clock, and switching off so that nothing is lost."""

from kivy.app import App
from kivy.properties import ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core import SOFTWARE
from core.said import NOTHING, Name, Part, said
from ui.bench import ChangeSettings
from ui.pages.setup import QUESTIONS, SettingQuestion, changed
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Role, box, line
from ui.touch.screen import BenchScreen, Door, Group

OFF, STAY, ASK_OFF, CLOCK, UPDATE = "off", "stay", "ask-off", "clock", "update"


class SettingRow(BoxLayout):
    """One question over its answers."""

    title = ObjectProperty("")


class SetupScreen(BenchScreen):
    """Keeps the wish to switch off until it is confirmed, and what came of it."""

    screen_name = "setup"
    heading = said("Setup")
    door = Door(place=10, words=said("Setup"), group=Group.BENCH)
    parent_screen = "bench"
    help = Help(
        tuple(
            part
            for y, x in ((76, 64), (50, 30), (24, 52))
            for part in (line((12, y), (88, y)), box(x, y - 8, 8, 16, Role.ACT))
        ),
        (
            said("Language, units, theme and panel."),
            said("A choice counts at once and can be taken back."),
            said("Below: clock, updates, power."),
        ),
    )
    text = ObjectProperty("")
    program = ObjectProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._asked_off = False
        self._outcome: Part = NOTHING
        self._rows = {question: self._row(question) for question in QUESTIONS}
        for row in self._rows.values():
            # The last places are those of updates, and of the text and of switching off.
            self.ids.rows.add_widget(row, index=2)

    def _row(self, question: SettingQuestion) -> SettingRow:
        row = SettingRow(title=question.title)
        row.ids.choices.choices = [(str(name), words) for name, words in question.choices]
        row.ids.choices.fbind("on_choose", lambda _row, answer: self.choose(question.name, answer))
        return row

    def on_pre_enter(self) -> None:
        """Ask anew every time."""
        self._asked_off, self._outcome = False, NOTHING

    def show(self, snapshot: Snapshot) -> None:
        """Draw what is chosen."""
        for question, row in self._rows.items():
            row.ids.choices.chosen = question.chosen(snapshot.settings)
        self.program = (
            said("Version {version}", version=Name(snapshot.update.running)) if snapshot.update else Name(SOFTWARE)
        )
        self.ids.version.choices = [(UPDATE, said("Update"))] if snapshot.update else []
        app = App.get_running_app()
        if app.switch_off is None:
            self.text = said("Close the window to end.")
            self.ids.off.choices = []
        elif snapshot.update and snapshot.update.state.is_busy:
            self.text = said("An update is under way: leave the bench switched on.")
            self.ids.off.choices = []
        elif self._asked_off:
            self.text = said("Switch off? Every accepted reading is kept.")
            self.ids.off.choices = [(OFF, said("Switch off")), (STAY, said("Stay on"))]
        else:
            self.text = self._outcome
            clock = [(CLOCK, said("Set the clock"))] if app.set_clock else []
            self.ids.off.choices = [*clock, (ASK_OFF, said("Switch off"))]

    def choose(self, name: str, answer: str) -> None:
        """In force as soon as the bench has heard it."""
        settings = changed(self.snapshot.settings, name, answer)
        if settings is not None and settings != self.snapshot.settings:
            self.send(ChangeSettings(settings=settings))

    def answer(self, name: str) -> None:
        """Ask first; then switch off, or stay."""
        if name in (CLOCK, UPDATE):
            self.go(name)
            return
        self._asked_off = name == ASK_OFF
        if name == OFF:
            self._outcome = said("Asking the machine to switch off.")
            self.in_background(App.get_running_app().switch_off, self._came_of_it)
        self.refresh()

    def _came_of_it(self, outcome: Part) -> None:
        self._outcome = outcome
        self.refresh()

"""The correction: what would make the machine square, and the guided way there, one step at a time."""

from __future__ import annotations

from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty

from core.machine.machine_log import MachineEventKind
from core.metrology.readings import Quantity, Unit
from ui.bench.desks.live import TakeReading
from ui.bench.desks.machines import AbandonCorrection, BeginCorrection, GuidedAnswer, LogMachineEvent
from ui.bench.desks.measuring import CloseSession, ConfirmMark
from ui.pages.correct import GIVE_UP_REASONS, correct_page
from ui.pages.keypad import Entry, press
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen, Door

KEEP_ON = ("keep-on", "Keep on")
TYPED = (("typed", "Take this gap"), ("not-typed", "Cancel"))


class CorrectScreen(BenchScreen):
    """Keeps a gap being typed, and the wish to give up; how far the correction has come is in the snapshot."""

    screen_name = "correct"
    heading = "Correct"
    door = Door(place=4, words="Correct")
    parent_screen = "verdict"
    title = ObjectProperty("")
    text = ObjectProperty("")
    move = ObjectProperty(None, allownone=True)
    meter = ObjectProperty(None, allownone=True)
    inside_mm = NumericProperty(0.0)
    gap_name = StringProperty("")
    gap_text = StringProperty("")
    typing = BooleanProperty(False)
    columns = NumericProperty(2)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._giving_up = False
        self._entry = Entry(unit=Unit.MM)
        # Held here: what is out of sight belongs to nobody else.
        self._sides = tuple(self.ids[name].__self__ for name in ("sheet", "step", "pad"))
        self._arrange()
        for name in ("typing", "move"):
            self.fbind(name, self._arrange)

    def _arrange(self, *_changed: object) -> None:
        """The machine beside the words; while a gap is typed, the keys at the right, as everywhere."""
        sheet, step, pad = self._sides
        sides = (step, pad) if self.typing else (sheet, step) if self.move is not None else (step,)
        if tuple(reversed(self.ids.sides.children)) == sides:
            return
        self.ids.sides.clear_widgets()
        for widget in sides:
            self.ids.sides.add_widget(widget)

    def on_pre_enter(self) -> None:
        """Nothing half-typed is kept."""
        self.typing = self._giving_up = False

    def show(self, snapshot: Snapshot) -> None:
        """Draw the stage that is up."""
        view = correct_page(snapshot)
        self.move, self.meter, self.inside_mm = view.move, view.meter, view.inside_mm
        guided = snapshot.machines.guided
        self.gap_name = f"gap, {guided.gap_end or guided.begun.end} end" if guided else ""
        self.gap_text = (self._entry.text or "–") if self.typing else view.gap_digits
        self.title, self.text, actions = view.title, view.text, view.actions
        if self._giving_up:
            self.title, self.text = "Give the correction up?", "Say how the machine is left: it goes into its log."
            actions = (*GIVE_UP_REASONS, KEEP_ON)
        elif self.typing:
            actions = TYPED
        self.columns = 3 if len(actions) == 3 else 2
        self.ids.actions.choices = list(actions)
        self.ids.actions.chosen = actions[0][0] if not self._giving_up else ""

    def act(self, name: str) -> None:
        """A choice was touched."""
        if self._giving_up:
            if name != KEEP_ON[0]:
                self.send(AbandonCorrection(reason=name))
            self._giving_up = False
        elif name == "begin":
            if not self.snapshot.closed:
                self.send(CloseSession())
            self.send(BeginCorrection())
        elif name == "confirm":
            self.send(ConfirmMark())
        elif name == "done":
            self.send(GuidedAnswer())
        elif name == "cured":
            self.send(LogMachineEvent(kind=MachineEventKind.PLAY_CURED))
        elif name == "take":
            self.send(TakeReading(quantity=Quantity.LENGTH))
        elif name in ("type", "typed", "not-typed"):
            self._type(name)
        elif name == "give-up":
            self._giving_up = True
        else:
            self.go(name)
            return
        self.refresh()

    def _type(self, name: str) -> None:
        if name == "typed" and self._entry.value is not None:
            self.send(GuidedAnswer(gap_mm=self._entry.value))
        self.typing = name == "type"
        self._entry = Entry(unit=self.snapshot.settings.notation.length_unit)

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entry = press(self._entry, key)
        self.refresh()

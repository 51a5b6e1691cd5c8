"""The correction: what would make the machine square, and the guided way there, one step a screen."""

from kivy.app import App
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty

from core.machine import MachineEventKind, Side
from core.metrology import Quantity, Unit
from core.said import Name, said
from ui.bench import AbandonCorrection, BeginCorrection, CloseSession, GuidedAnswer, LogMachineEvent, TakeReading
from ui.pages.correct import GIVE_UP_REASONS, CorrectPage, correct_page
from ui.pages.keypad import Entry, press
from ui.state import Snapshot
from ui.touch.pictures.cautions import CAUTION_PICTURES
from ui.touch.pictures.help import Help
from ui.touch.pictures.machines import moving_ends
from ui.touch.pictures.steps import picture_of
from ui.touch.screen import Door, SidedScreen

KEEP_ON = ("keep-on", said("Keep on"))
BACK = ("drawing", said("Back to the drawing"))
TYPED = (("not-typed", said("Cancel")), ("typed", said("Take this gap")))
HOW_LEFT = said("Say how the machine is left: it goes into its log.")
# Of the 800 x 480 design: a caution's words have capitals of 5 mm, a move of 7 mm, the order to stop of 8 mm,
# on 7 inches.
TITLE_PX, CAUTION_PX, MOVE_PX, STOP_PX = 24.0, 40.0, 56.0, 64.0


def _title_px(page: CorrectPage) -> float:
    if page.caution is not None:
        return CAUTION_PX
    if page.setting is None:
        return TITLE_PX
    return STOP_PX if page.inside else MOVE_PX if page.to_go is None else TITLE_PX


class CorrectScreen(SidedScreen):
    """Keeps a gap being typed, the details being read, and the wish to give up; how far the correction has come is in
    the snapshot."""

    screen_name = "correct"
    heading = said("Correct")
    door = Door(place=4, words=said("Correct"))
    parent_screen = "verdict"
    parts = ("stage", "drawing", "thing", "explain", "figures", "gap", "words", "pad", "details", "left")
    help = Help(
        moving_ends((Side.RIGHT,)),
        (
            said("One step a screen: do what it says, then touch the blue button."),
            said("A caution is heeded by touching the thing drawn."),
            said("Stop at any step: the machine's log remembers it."),
        ),
    )
    page = ObjectProperty(None, allownone=True)
    title = ObjectProperty("")
    note = ObjectProperty("")
    picture = ObjectProperty(())
    caution_picture = ObjectProperty(())
    title_px = NumericProperty(TITLE_PX)
    now = ObjectProperty("")
    gap_text = StringProperty("")
    typing = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._giving_up = self._reading = False
        # The caution that is up. Its picture never stands twice in one place, and the first not where the button was
        # that led here: on the bench at the right, on other screens at the left, on an upright panel below.
        self._asked_of: object = None
        self._first_last = self._thing_last = False
        self._entry = Entry(unit=Unit.MM)
        self._asked: object = None  # the step and the unit that the number being typed belongs to
        self.ids.reasons.choices = list(GIVE_UP_REASONS)

    def on_pre_enter(self) -> None:
        """A gap that was being typed is still there, as long as it is the one asked for."""
        self._giving_up = self._reading = False
        before = self.manager.transition.screen_out
        from_bench = before is not None and before.name == "bench"
        self._asked_of, self._first_last = None, not (from_bench or App.get_running_app().portrait)

    def show(self, snapshot: Snapshot) -> None:
        """Draw the step that is up."""
        self._keep_only_what_is_asked(snapshot)
        page = correct_page(snapshot, self._entry.value if self._entry.text else None)
        guided = snapshot.machines.guided
        self.picture = picture_of(guided) if guided else ()
        self.caution_picture = CAUTION_PICTURES[page.caution.caution.name] if page.caution else ()
        if page.caution is not None and page.caution != self._asked_of:
            self._thing_last = self._first_last if self._asked_of is None else not self._thing_last
            self._asked_of = page.caution
            self.panel_changed()  # another caution: it is read before it can be heeded
        self.page, self.title, self.note = page, page.title, page.text
        actions = page.actions
        self.now = page.to_go.now if page.to_go else ""
        if page.to_go and self._entry.text and not page.heard:
            notation = snapshot.settings.notation
            keyed_in = Name(f"{notation.entry(self._entry.text)} {notation.length_sign}")
            self.now = said("now {gap}", gap=keyed_in)
        self.gap_text = (self._entry.text or "–") if self._typing_now(page) else page.gap
        if self._giving_up:
            self.title, self.note = said("Give the correction up?"), HOW_LEFT
            # The ways it can be left stand above: where the wish was touched there is only the way back.
            actions = (KEEP_ON,)
        elif self._reading:
            # Where the wish to read was touched; what else can be done stays where it was.
            self.note = page.details
            actions = tuple(BACK if one[0] == "details" else one for one in page.actions)
        elif self._typing_now(page) and page.gap:
            actions = TYPED if page.heard else (actions[0], TYPED[1])
        self.title_px = TITLE_PX if self._giving_up else _title_px(page)
        self.shown = self._arranged(page)
        self.ids.actions.choices = list(actions)
        self.ids.actions.chosen = actions[-1][0] if not (self._giving_up or page.caution) else ""

    def _keep_only_what_is_asked(self, snapshot: Snapshot) -> None:
        """A number typed at one step, or in another unit, means nothing at the next."""
        guided = snapshot.machines.guided
        asked = (guided and (guided.stage, guided.gap_end), snapshot.settings.notation.length_unit)
        if asked != self._asked:
            self._asked, self.typing = asked, False
            self._entry = Entry(unit=snapshot.settings.notation.length_unit)

    def _typing_now(self, page: CorrectPage) -> bool:
        """Whether keys are wanted: asked for, or no caliper is heard where a gap counts."""
        return self.typing or (bool(page.gap or page.to_go) and not page.heard)

    def _arranged(self, page: CorrectPage) -> list[str]:
        if self._giving_up:
            return ["left"]
        if self._reading:
            return ["details"]
        if page.caution is not None:
            return ["explain", "thing"] if self._thing_last else ["thing", "explain"]
        keys = ["pad"] if self._typing_now(page) else []
        if page.to_go is not None:
            return ["stage", *keys, "figures"]
        if page.gap:
            return [*(keys or ["drawing"]), "gap"]
        return ["stage" if page.setting else "drawing", "words"] if page.setting or self.picture else ["details"]

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
        elif name == "done":
            self._entry = Entry(unit=self._entry.unit)
            self.send(GuidedAnswer())
        elif name == "cured":
            self.send(LogMachineEvent(kind=MachineEventKind.PLAY_CURED))
        elif name == "take":
            self.send(TakeReading(quantity=Quantity.LENGTH))
        elif name in ("type", "typed", "not-typed"):
            self._type(name)
        elif name in ("details", "drawing"):
            self._reading = name == "details"
        elif name == "give-up":
            self._giving_up = True
        else:
            self.go(name)
            return
        self.refresh()

    def confirm(self) -> None:
        """The thing drawn was touched: the caution is heeded."""
        if self.page.caution is not None:
            self.send(GuidedAnswer())

    def _type(self, name: str) -> None:
        if name == "typed" and self._entry.value is not None:
            self.send(GuidedAnswer(gap_mm=self._entry.value))
        self.typing = name == "type"
        self._entry = Entry(unit=self.snapshot.settings.notation.length_unit)

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        if not self._entry.text:
            self._entry = Entry(unit=self.snapshot.settings.notation.length_unit)
        self._entry = press(self._entry, key)
        self.refresh()

"""The witness: what tells which way a coupon leans, one question a screen, answered by touching a picture."""

from kivy.properties import BooleanProperty, ObjectProperty

from core.said import Said, said
from ui.bench import SelectFeature
from ui.pages.cutting import TURNS
from ui.pages.keypad import Entry, press
from ui.pages.what_to_do import what_to_do
from ui.pages.witness import SCREENS, Ask, Choices, WitnessPage, answer, way_after, witness_page
from ui.state import Snapshot
from ui.touch.pictures.help import LEANING, Help
from ui.touch.pictures.questions import ASKED
from ui.touch.pictures.witness import choice_picture
from ui.touch.screen import SidedScreen


class WitnessScreen(SidedScreen):
    """Keeps the way that was chosen, how far along it the person is, and a gap being typed; what was answered is in the
    snapshot."""

    screen_name = "witness"
    heading = said("Witness")
    parent_screen = "verdict"
    parts = ("words", "pictures", "pad")
    help = Help(
        (*LEANING, *ASKED),
        (
            said("Diagonals taken for one another turn the move round."),
            said("One of these ways proves which is which."),
            said("The last resort is a trial step: it may make it worse."),
        ),
    )
    title = ObjectProperty("")
    text = ObjectProperty("")
    ask = ObjectProperty("")
    entry_text = ObjectProperty("")
    typing = BooleanProperty(False)
    # On an upright panel the trial step was touched in the lower half: its answers stand side by side there.
    tries = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._way = Ask.WAYS
        self._page: WitnessPage | None = None
        self._said: Said | str = ""
        self._entry = self._empty()

    def _empty(self) -> Entry:
        return Entry(unit=self.snapshot.settings.notation.length_unit)

    def on_pre_enter(self) -> None:
        """Begin with what is asked first."""
        self._turn_to(Ask.WAYS)

    def _turn_to(self, way: Ask) -> None:
        self._way = way
        self.open_leaf(0)

    def open_leaf(self, leaf: int | None) -> None:
        """What was typed or said belongs to the step before."""
        self._said, self.typing, self._entry = "", False, self._empty()
        self.ids.scroll.scroll_y = 1
        super().open_leaf(leaf)

    def show(self, snapshot: Snapshot) -> None:
        """Draw the question that is up."""
        page = self._page = witness_page(snapshot, self._way, self.leaf)
        pictured = page.asks in (Ask.MARK, Ask.LIGHT_NL, Ask.LIGHT_NR, Ask.WAYS)
        self.title, self.text, self.ask = page.title, self._said or page.text, page.number
        self.entry_text = self._entry.text or "–"
        if pictured:
            self.ids.pictures.choices = [(name, choice_picture(page.asks, name), words) for name, words in page.choices]
        else:
            self.tries = page.asks is Ask.TRIAL
            self.ids.actions.choices = list(page.choices)
            self.ids.actions.chosen = _main(page.choices) if not page.number else ""
        self.shown = ["pictures"] if pictured else ["words", "pad"] if self.typing else ["words"]

    def type_gap(self) -> None:
        """The field was touched: a new number goes into it."""
        self.typing, self._entry = True, self._empty()
        self.refresh()

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entry = press(self._entry, key)
        self.refresh()

    def choose(self, name: str) -> None:
        """A choice was touched."""
        page = self._page
        if page is None:
            return
        if name in SCREENS:
            self._leave_for(name)
            return
        if name in TURNS:
            self.turn(name)
            return
        meant = answer(self.snapshot, page.asks, name, self._entry.value)
        if isinstance(meant, Said):
            self._said = meant
            self.refresh()
        elif isinstance(meant, Ask):
            self._turn_to(meant)
        else:
            self.send(meant)
            self._turn_to(way_after(page.asks))

    def _leave_for(self, name: str) -> None:
        """To another screen; to measuring with the reading that is asked for at the cursor."""
        wanted = what_to_do(self.snapshot).measure
        if name == "bench" and wanted is not None:
            self.send(SelectFeature(feature=wanted))
        self.go(name)


def _main(choices: Choices) -> str:
    """The choice that is meant most often: the move once it is there, else the last."""
    names = [name for name, _words in choices]
    return "correct" if "correct" in names else names[-1]

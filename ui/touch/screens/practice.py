"""Practice: the coupon of an unknown machine, what is asked about it, and the hidden truth afterwards."""

from kivy.properties import ObjectProperty

from core.records import outline_of
from core.said import NOTHING, Part, said
from ui.bench import PracticeFault
from ui.pages.bench import figured_result
from ui.pages.practice import BEGIN, DONE, READ_ON, WATCH, chosen, practice_page
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.questions import ASKED
from ui.touch.pictures.strokes import COUPON_CUT
from ui.touch.screen import BenchScreen, Door, Group


class PracticeScreen(BenchScreen):
    """Keeps the fault whose second question is up, and which leaf of the answer is read."""

    screen_name = "practice"
    heading = said("Practice")
    door = Door(place=11, words=said("Practice"), group=Group.BENCH)
    parent_screen = "bench"
    help = Help(
        (*COUPON_CUT, *ASKED),
        (
            said("Coupons of invented machines, one after the other."),
            said("Measure, then say what is wrong and which way to move."),
            said("Then it tells what it had hidden, and why."),
        ),
    )
    title = ObjectProperty("")
    text = ObjectProperty("")
    outline = ObjectProperty(None, allownone=True)

    @classmethod
    def is_open_on(cls, snapshot: Snapshot) -> bool:
        """Practice needs a simulated bench."""
        return snapshot.practice is not None

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._fault: PracticeFault | None = None
        self._read: Part = NOTHING

    def on_pre_enter(self) -> None:
        """Ask from the first question."""
        self._fault, self.leaf = None, 0

    def show(self, snapshot: Snapshot) -> None:
        """Draw the coupon and the stage that is up."""
        self.ids.figure.shown = figured_result(snapshot)
        self.outline = outline_of(snapshot.evaluation) if snapshot.evaluation else None
        whole = practice_page(snapshot, self._fault).text
        if whole != self._read:  # another answer: it is read from its beginning
            self.leaf, self._read = 0, whole
        page = practice_page(snapshot, self._fault, self.leaf)
        self.title, self.text = page.title, page.leaves[self.leaf] if page.leaves else page.text
        self.ids.choices.chosen = BEGIN  # the main one where it is offered
        self.ids.choices.choices = list(page.choices)

    def choose(self, name: str) -> None:
        """A choice was touched."""
        if name in (WATCH, DONE):
            self.go("bench")
        elif name == READ_ON:
            self.open_leaf((self.leaf + 1) % len(practice_page(self.snapshot).leaves))
        else:
            meant = chosen(name, self._fault)
            self._fault = meant if isinstance(meant, PracticeFault) else None
            if meant is not None and not isinstance(meant, PracticeFault):
                self.send(meant)
            self.refresh()

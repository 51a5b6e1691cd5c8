"""Causes: why the coupon came out so, and what else can be tried or told, a page each."""

from kivy.properties import NumericProperty, ObjectProperty, StringProperty

from core.machine import Side
from core.metrology import Unit
from core.said import NOTHING, Part, lines, said
from ui.bench import BeginCorrectionByReference
from ui.pages.causes import PAGE_WORDS, Page, act, causes_page
from ui.pages.correct import CORRECT_DESIGN
from ui.pages.keypad import Entry, press
from ui.pages.practice import BACK_TO_IT
from ui.state import Command, Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.steps import gap_at
from ui.touch.screen import Door, SidedScreen

TYPED = (("typed", said("That is it")),)


class CausesScreen(SidedScreen):
    """Keeps the page in sight, the numbers being typed for it, and the answer to the last action."""

    screen_name = "causes"
    heading = said("Causes")
    door = Door(place=5, words=said("Causes"))
    parent_screen = "verdict"
    parts = ("pages", "page", "pad")
    help = Help(
        gap_at(Side.RIGHT, Side.FAR),
        (
            said("Why: what the coupon says of the machine, and what it cannot tell."),
            said("Two gaps set the gantry again without a coupon."),
            said("Before hands go in, the caution on top comes first."),
        ),
    )
    title = ObjectProperty("")
    text = ObjectProperty("")
    first_ask = ObjectProperty("")
    second_ask = ObjectProperty("")
    first_text = StringProperty("")
    second_text = StringProperty("")
    active = NumericProperty(-1)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._page = Page.WHY
        self._answer: Part = NOTHING
        self._typed: dict[tuple[Page, Unit], list[Entry]] = {}
        self.ids.pages.chosen = self._page
        self.ids.pages.choices = list(PAGE_WORDS)

    @property
    def _entries(self) -> list[Entry]:
        """What was typed on this page, in the unit of now: going elsewhere and back loses none of it."""
        unit = self.snapshot.settings.notation.length_unit
        return self._typed.setdefault((self._page, unit), [Entry(unit=unit), Entry(unit=unit)])

    def on_pre_enter(self) -> None:
        """Go on with the page as it was left."""
        self.turn_to(self._page)

    def turn_to(self, page: str) -> None:
        """Bring a page into sight."""
        self._page, self._answer, self.active = Page(page), NOTHING, -1
        self.ids.pages.chosen = self._page
        self.ids.scroll.scroll_y = 1
        self.refresh()

    def show(self, snapshot: Snapshot) -> None:
        """Draw the page."""
        told = causes_page(snapshot, self._page)
        self.title = told.title
        self.text = lines(self._answer, told.text)
        asks = (*told.asks, "", "")
        self.first_ask, self.second_ask = asks[0], asks[1]
        self.first_text, self.second_text = (entry.text or "–" for entry in self._entries)
        typing = self.active >= 0
        # The keys stand at the right, as everywhere, and take the room of the list of pages.
        self.shown = ["page", "pad"] if typing else ["pages", "page"]
        actions = TYPED if typing else told.actions
        self.ids.actions.chosen = actions[0][0] if typing else ""
        self.ids.actions.choices = list(actions)

    def type_into(self, number: int) -> None:
        """A field was touched: a new number goes into it."""
        self.active = number
        self._entries[number] = Entry(unit=self.snapshot.settings.notation.length_unit)
        self.refresh()

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entries[self.active] = press(self._entries[self.active], key)
        self.refresh()

    def act(self, name: str) -> None:
        """An action was touched."""
        if name == BACK_TO_IT[0]:
            self.go(name)
            return
        if self.active >= 0:
            self.active = -1
        elif name == CORRECT_DESIGN[0]:
            self.go(name)
            return
        else:
            numbers = tuple(entry.value for entry in self._entries)
            meant = act(self.snapshot, self._page, name, numbers)
            if not isinstance(meant, Command):
                self._answer = meant
            else:
                self._answer = NOTHING
                self.send(meant)
                if isinstance(meant, BeginCorrectionByReference):
                    self.go("correct")
                    return
        self.refresh()

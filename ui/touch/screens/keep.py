"""Save and restore: the whole bench onto a stick and back, and the fault report, each asked first where it matters."""

from core.said import said
from ui.bench import KeepBench, KeepStep
from ui.pages.errand import ErrandPage
from ui.pages.keep import REPORT, keep_page
from ui.state import Snapshot
from ui.touch.pictures.help import STICK, Help
from ui.touch.pictures.strokes import Role, arrow, box
from ui.touch.screen import Door, ErrandScreen, Group


class KeepScreen(ErrandScreen):
    """Keeps the wish for a fault report until it is said what goes into it."""

    screen_name = "keep"
    heading = said("Saving")
    door = Door(place=12, words=said("Save and restore"), group=Group.RECORDS)
    parent_screen = "bench"
    help = Help(
        (
            *STICK,
            box(26, 74, 48, 16, Role.QUIET),
            *arrow((32, 72), (32, 56), width=3.0),
            *arrow((68, 56), (68, 72), width=3.0),
        ),
        (
            said("Records, machines, instruments and settings, all in one folder."),
            said("Keep the stick away from the bench: cards die."),
            said("The fault report holds no readings unless you want them."),
        ),
    )

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._report_asked = False

    def on_pre_enter(self) -> None:
        """Ask anew every time."""
        self._report_asked = False

    def page_of(self, snapshot: Snapshot) -> ErrandPage:
        """What is said of it."""
        return keep_page(snapshot, report_asked=self._report_asked)

    def answer(self, name: str) -> None:
        """Ask what goes into a fault report; everything else is the bench's."""
        self._report_asked = name == REPORT
        if name in list(KeepStep):
            self.send(KeepBench(step=KeepStep(name)))
        self.refresh()

"""Update: what runs here, what is on the stick, and the one touch that changes it, asked first."""

from core.said import said
from ui.bench import ChangeVersion, UpdateStep
from ui.pages.errand import ErrandPage
from ui.pages.update import ASK_BACK, update_page
from ui.state import Snapshot
from ui.touch.pictures.help import STICK, Help
from ui.touch.pictures.strokes import arrow
from ui.touch.screen import ErrandScreen


class UpdateScreen(ErrandScreen):
    """Keeps the wish to go back until it is confirmed."""

    screen_name = "update"
    heading = said("Update")
    parent_screen = "setup"
    help = Help(
        (*STICK, *arrow((50, 62), (50, 94), width=5.0)),
        (
            said("Plug in the stick with the update, then look at it."),
            said("Nothing changes before you were asked."),
            said("What does not start is taken back by itself."),
        ),
    )

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._asked_back = False

    def on_pre_enter(self) -> None:
        """Ask anew every time."""
        self._asked_back = False

    def page_of(self, snapshot: Snapshot) -> ErrandPage:
        """What is said of it."""
        return update_page(snapshot, asked_back=self._asked_back)

    def answer(self, name: str) -> None:
        """Ask before going back; everything else is the bench's."""
        self._asked_back = name == ASK_BACK
        if name in list(UpdateStep):
            self.send(ChangeVersion(step=UpdateStep(name)))
        self.refresh()

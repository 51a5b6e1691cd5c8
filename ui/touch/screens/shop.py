"""Shop: several benches share one history; joining by a file on a stick, which machine is which, leaving again."""

from kivy.clock import Clock

from core.said import said, said_in
from ui.bench import look_up_shop
from ui.pages.errand import ErrandPage
from ui.pages.shop import ShopAsked, shop_page
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Role, box, frame, line
from ui.touch.screen import Door, ErrandScreen, Group

# The sending service answers in the archive: looked up while somebody looks.
LOOK_S = 5.0


class ShopScreen(ErrandScreen):
    """Keeps what the person has read so far."""

    screen_name = "shop"
    heading = said_in("of benches", "Shop")
    door = Door(place=13, words=said("Shop of benches"), group=Group.BENCH)
    parent_screen = "bench"
    help = Help(
        (
            *(frame(x, 62, 22, 16, line=3.0) for x in (8, 39, 70)),
            *(line((x, 62), (50, 34), role=Role.QUIET, width=3.0) for x in (19, 50, 81)),
            box(36, 12, 28, 22),
        ),
        (
            said("Several benches, one history of each machine."),
            said("Sending is a service beside the bench, which never waits for it."),
            said("Equal names prove nothing: say which machine is which."),
        ),
    )

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._asked = ShopAsked()
        self._looking = Clock.create_trigger(lambda _elapsed_s: self._look_up(), LOOK_S, interval=True)

    def on_pre_enter(self) -> None:
        """Ask anew every time, and look up what the sending service has done meanwhile."""
        self._asked = ShopAsked()
        self._look_up()
        self._looking()

    def on_leave(self) -> None:
        """Nobody looks."""
        self._looking.cancel()

    def _look_up(self) -> None:
        self.send(look_up_shop())

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot; the next question is another one, though its answers stand where they stood."""
        if self.page_of(snapshot).text != self.page.text:
            self.panel_changed()
        super().show(snapshot)

    def page_of(self, snapshot: Snapshot) -> ErrandPage:
        """What is said of it."""
        return shop_page(snapshot, self._asked)

    def answer(self, name: str) -> None:
        """Read on, or tell the bench."""
        command = self._asked.command(name, self.snapshot)
        self._asked = self._asked.after(name, self.snapshot)
        self.send(command or look_up_shop())
        self.refresh()

"""The bed map: coupons of one grid in their places, what they have in common, and what is local on the bed."""

from kivy.properties import ObjectProperty

from core.said import NOTHING, said
from ui.bench import look_up_grid
from ui.pages.bed import known_grids, machine_name, map_picture, map_text
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Role, box, frame, line
from ui.touch.screen import BenchScreen


class BedScreen(BenchScreen):
    """Keeps nothing: the grid that is looked at is in the snapshot."""

    screen_name = "bed"
    heading = said("Over the bed")
    parent_screen = "history"
    help = Help(
        (
            frame(6, 14, 88, 76, role=Role.QUIET, line=2.5),
            box(6, 8, 88, 6),
            *(
                line((x, y), (x + 18, y), (x + 21, y + 22), (x + 3, y + 22), (x, y), width=3.0)
                for x in (12, 40, 68)
                for y in (24, 58)
            ),
        ),
        (
            said("Coupons lie as they were cut over the bed."),
            said("A lean that all share is the gantry's."),
            said("What differs from place to place is the rails or the bed."),
        ),
    )
    picture = ObjectProperty(None, allownone=True)
    text = ObjectProperty("")
    caption = ObjectProperty(NOTHING)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._drawn: object = None

    def on_pre_enter(self) -> None:
        """Look the last grid up again: coupons may have been closed since."""
        self.send(look_up_grid(machine=machine_name(self.snapshot)))

    def choose_grid(self, grid: str) -> None:
        """Look at another grid."""
        self.send(look_up_grid(machine=machine_name(self.snapshot), grid=grid))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        state = snapshot.records.grid
        self.text = map_text(snapshot)
        self.ids.grids.choices = list(known_grids(state))
        self.ids.grids.chosen = state.grid if state else ""
        if state is not self._drawn:
            self._drawn, self.picture = state, map_picture(state)
            self.caption = self.picture.caption if self.picture else ""

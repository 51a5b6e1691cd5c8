"""The bed map: coupons of one grid in their places, what they have in common, and what is local on the bed."""

from kivy.properties import ObjectProperty

from core.said import NOTHING, said
from ui.bench.desks.records import LookUpGrid
from ui.pages.bed import known_grids, machine_name, map_picture, map_text
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen


class BedScreen(BenchScreen):
    """Keeps nothing: the grid that is looked at is in the snapshot."""

    screen_name = "bed"
    heading = said("Over the bed")
    parent_screen = "history"
    picture = ObjectProperty(None, allownone=True)
    text = ObjectProperty("")
    caption = ObjectProperty(NOTHING)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._drawn: object = None

    def on_pre_enter(self) -> None:
        """Look the last grid up again: coupons may have been closed since."""
        self.send(LookUpGrid(machine=machine_name(self.snapshot)))

    def choose_grid(self, grid: str) -> None:
        """Look at another grid."""
        self.send(LookUpGrid(machine=machine_name(self.snapshot), grid=grid))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        state = snapshot.records.grid
        self.text = map_text(snapshot)
        self.ids.grids.choices = list(known_grids(state))
        self.ids.grids.chosen = state.grid if state else ""
        if state is not self._drawn:
            self._drawn, self.picture = state, map_picture(state)
            self.caption = self.picture.caption if self.picture else ""

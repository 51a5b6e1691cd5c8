"""Design: a design on the stick corrected in place of the machine; chosen by one touch, written by another."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ObjectProperty

from core.machine.design_correction import DesignCorrection
from core.said import NOTHING, said
from ui.bench.desks.design import ChooseDesign, LookForDesigns, WriteDesign, correction_of_design
from ui.bench.desks.measuring import ConfirmMark
from ui.pages.design import design_page, sources_of
from ui.pages.theme import Shape
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen


class DesignScreen(BenchScreen):
    """Keeps nothing: what is found, chosen and written is in the snapshot."""

    screen_name = "design"
    heading = said("Design")
    parent_screen = "verdict"
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    title = ObjectProperty("")
    text = ObjectProperty("")
    choosing = BooleanProperty(False)

    def on_pre_enter(self) -> None:
        """Look at what is plugged in already; a stick that comes later is looked at by a touch."""
        snapshot = self.snapshot
        somewhere = snapshot.design.folder or len(snapshot.download.sticks) == 1
        can = isinstance(correction_of_design(snapshot), DesignCorrection)
        if somewhere and can and not snapshot.stick_in_use:
            self.send(LookForDesigns())

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        view = design_page(snapshot)
        if (view.title, view.word) != (self.title, self.word):
            self.ids.scroll.scroll_y = 1
        self.shape, self.word, self.caption = view.shape, view.word, view.caption
        self.title, self.text, self.choosing = view.title, view.text, bool(view.sources)
        self.ids.sources.chosen, self.ids.sources.choices = view.chosen, list(view.sources)
        self.ids.actions.chosen = view.main
        self.ids.actions.choices = list(view.actions)

    def choose(self, name: str) -> None:
        """A design, or the coupon, was touched."""
        for source in sources_of(self.snapshot):
            if source.name == name:
                self.send(ChooseDesign(source=source))

    def act(self, name: str) -> None:
        """An action was touched."""
        match name:
            case "look":
                self.send(LookForDesigns())
            case "write":
                self.send(WriteDesign())
            case "confirm":
                self.send(ConfirmMark())
            case _:
                self.go(name)

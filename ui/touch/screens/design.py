"""Design: a design on the stick corrected in place of the machine; chosen by one touch, written by another."""

from kivy.properties import ObjectProperty

from core.machine import DesignCorrection
from core.said import said
from ui.bench import ChooseDesign, ConfirmMark, LookForDesigns, WriteDesign, correction_of_design
from ui.pages.cutting import TURNS
from ui.pages.design import CLOSE, READ, DesignPage, design_page, reading, sources_of
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Role, arrow, frame, line
from ui.touch.screen import ErrandScreen


class DesignScreen(ErrandScreen):
    """Keeps which leaf of what the correction does is read; what is found, chosen and written is in the snapshot."""

    screen_name = "design"
    heading = said("Design")
    parent_screen = "verdict"
    help = Help(
        (
            line((10, 30), (42, 30), (50, 74), (18, 74), (10, 30), width=3.5),
            *arrow((52, 52), (64, 52), width=3.0),
            frame(66, 30, 28, 44, role=Role.GOOD, line=3.5),
        ),
        (
            said("Where nothing can be set, the design is corrected."),
            said("A copy is written; the original stays as it is."),
            said("Cut the coupon first: it proves the correction."),
        ),
    )
    page = ObjectProperty(DesignPage(), rebind=True)

    def on_pre_enter(self) -> None:
        """Look at what is plugged in already; a stick that comes later is looked at by a touch."""
        self.leaf = None
        snapshot = self.snapshot
        somewhere = snapshot.design.folder or len(snapshot.download.sticks) == 1
        can = isinstance(correction_of_design(snapshot), DesignCorrection)
        if somewhere and can and not snapshot.stick_in_use:
            self.send(LookForDesigns())

    def page_of(self, snapshot: Snapshot) -> DesignPage:
        """What is said of it."""
        return design_page(snapshot)

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot; what is new is read from its beginning."""
        before = self.page
        super().show(snapshot)
        page = self.page
        if (page.title, page.word) != (before.title, before.word):
            self.ids.scroll.scroll_y, self.leaf = 1, None
        if self.leaf is not None and self.leaf < len(page.leaves):
            self.ids.actions.choices = list(choices := reading(page, self.leaf))
            self.ids.actions.chosen = choices[-1][0]
            return
        self.ids.sources.chosen, self.ids.sources.choices = page.chosen, list(page.sources)
        self.ids.actions.chosen, self.ids.actions.choices = page.main, list(page.choices)

    def choose(self, name: str) -> None:
        """A design, or the coupon, was touched."""
        for source in sources_of(self.snapshot):
            if source.name == name:
                self.send(ChooseDesign(source=source))

    def act(self, name: str) -> None:
        """An action was touched."""
        match name:
            case _ if name in (READ, CLOSE):
                self.open_leaf(0 if name == READ else None)
            case _ if name in TURNS:
                self.turn(name)
            case "look":
                self.send(LookForDesigns())
            case "write":
                self.send(WriteDesign())
            case "confirm":
                self.send(ConfirmMark())
            case _:
                self.go(name)

"""Before cutting: one caution a page, with its picture, large enough to be read from where the machine is."""

from kivy.app import App
from kivy.properties import ObjectProperty

from core.said import said
from ui.pages.cutting import READ, cutting_page
from ui.state import Snapshot
from ui.touch.pictures.cautions import CAUTION_PICTURES
from ui.touch.pictures.help import Help
from ui.touch.screen import BenchScreen


class CuttingScreen(BenchScreen):
    """Keeps which caution is up."""

    screen_name = "cutting"
    heading = said("Caution")
    parent_screen = "coupon"
    help = Help(
        CAUTION_PICTURES["hands-out"],
        (
            said("What can hurt while the coupon is cut, one thing after the other."),
            said("It goes by what the machine cuts with: describe it."),
            said("The maker's instructions, local codes and licensed practice come first."),
        ),
    )
    page = ObjectProperty(None, allownone=True)
    picture = ObjectProperty(())

    def on_pre_enter(self) -> None:
        """From the first."""
        self.leaf = 0

    def show(self, snapshot: Snapshot) -> None:
        """Draw the caution that is up."""
        self.page = page = cutting_page(snapshot, self.leaf)
        self.picture = CAUTION_PICTURES[page.caution.name]
        self.ids.actions.choices, self.ids.actions.chosen = list(page.choices), page.choices[-1][0]

    def act(self, name: str) -> None:
        """A choice was touched."""
        if name == READ:
            App.get_running_app().root.back()
        else:
            self.turn(name)

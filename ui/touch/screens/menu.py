"""The menu: every other place, in three groups: this machine, its records, the bench."""

from kivy.properties import ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING, Part, said
from ui.bench import look_up_shop
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import box, frame
from ui.touch.screen import BenchScreen, Group, doors
from ui.touch.widgets.basics import KeyButton

GROUP_WORDS: dict[Group, Part] = {
    Group.MACHINE: said("This machine"),
    Group.RECORDS: said("Records"),
    Group.BENCH: said("The bench"),
}


class DoorColumn(BoxLayout):
    """One group: what it is called, and its doors."""

    words = ObjectProperty(NOTHING)


class MenuScreen(BenchScreen):
    """Keeps nothing."""

    screen_name = "menu"
    heading = said("Menu")
    parent_screen = "bench"
    help = Help(
        (
            *(box(x, 78, 24, 6) for x in (8, 38, 68)),
            *(frame(x, y, 24, 14) for x in (8, 38, 68) for y in (56, 36, 16)),
        ),
        (
            said("Left: this machine, and what to do to it."),
            said("Middle: coupons measured before, and files to take along."),
            said("Right: instruments, settings, this bench itself."),
        ),
    )
    shop = ObjectProperty(NOTHING)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for group, found in doors(self.snapshot).items():
            column = self.ids[group.value]
            column.words = GROUP_WORDS[group]
            for name, words in found:
                button = KeyButton(text=words)
                button.fbind("on_release", lambda _button, name=name: self.go(name))
                column.ids.doors.add_widget(button)

    def on_pre_enter(self) -> None:
        """Look up what the sending service has done meanwhile."""
        self.send(look_up_shop())

    def show(self, snapshot: Snapshot) -> None:
        """One line of the shop, where the bench belongs to one."""
        state = snapshot.records.shop
        self.shop = state.line if state else NOTHING

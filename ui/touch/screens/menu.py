"""The menu: every other place, in three groups: this machine, its records, the bench."""

from kivy.properties import ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING, Part, said
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

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for group, found in doors(self.snapshot).items():
            column = self.ids[group.value]
            column.words = GROUP_WORDS[group]
            for name, words in found:
                button = KeyButton(text=words)
                button.fbind("on_release", lambda _button, name=name: self.go(name))
                column.ids.doors.add_widget(button)

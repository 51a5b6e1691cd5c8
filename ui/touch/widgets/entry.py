"""What is keyed in: a framed number with its name and unit, the keys, and the places of a grid."""

from pathlib import Path

from kivy.app import App
from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout

from core.said import Name, said
from ui.pages.keypad import BACKSPACE
from ui.touch.widgets.basics import Framed, KeyButton
from ui.touch.widgets.digits import Digits  # noqa: F401 - named in the kv file

POINT = "."
KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", POINT, "0", BACKSPACE)
_WORDS = {BACKSPACE: said("delete")}
# The letters of English and German, and the figures; upright in rows of 7, lying in rows of 13.
LETTERS = "abcdefghijklmnopqrstuvwxyzäöü0123456789"


class EntryField(ButtonBehavior, Framed, BoxLayout):
    """Touched, it becomes the one the keys go to; `active` while it is."""

    name = ObjectProperty("")
    text = StringProperty("")
    unit = StringProperty("")
    active = BooleanProperty(False)
    digit_px = NumericProperty(40)


class NumberPad(GridLayout):
    """Dispatches `on_key` with a figure, '.' or BACKSPACE."""

    __events__ = ("on_key",)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(cols=3, **kwargs)
        for key in KEYS:
            button = KeyButton(text=_WORDS.get(key, key), repeats=True, size_hint_y=1)
            button.type_px = 20 if key in _WORDS else 32
            button.fbind("on_release", lambda _button, key=key: self.dispatch("on_key", key))
            self.add_widget(button)
            if key == POINT:
                self._point = button
        App.get_running_app().bind(notation=self._mark)
        self._mark()

    def _mark(self, *_changed: object) -> None:
        """The key of the point shows the decimal mark that was chosen."""
        self._point.text = App.get_running_app().notation.entry(POINT)

    def on_key(self, key: str) -> None:
        """A key was pressed."""


class SidePad(NumberPad):
    """Beside what is keyed in; below it on an upright panel."""


class LetterPad(GridLayout):
    """Letters and figures of a name; dispatches `on_letter` with the small letter."""

    __events__ = ("on_letter",)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        app = App.get_running_app()
        for letter in LETTERS:
            key = KeyButton(text=letter.upper(), repeats=True, size_hint_y=1, type_px=24)
            key.fbind("on_release", lambda _key, letter=letter: self.dispatch("on_letter", letter))
            self.add_widget(key)
        app.bind(portrait=self._fit)
        self._fit()

    def _fit(self, *_changed: object) -> None:
        self.cols = 7 if App.get_running_app().portrait else 13

    def on_letter(self, letter: str) -> None:
        """A key was pressed."""


class NamePad(BoxLayout):
    """A name and the letters to give it with: the first of each word is a capital."""

    typed = StringProperty("")
    longest = NumericProperty(24)
    shown = ObjectProperty(Name("–"))
    space = ObjectProperty(said("space"))

    def press(self, letter: str) -> None:
        """A letter, nothing to take the last one back."""
        if not letter:
            self.typed = self.typed[:-1]
        elif len(self.typed) < self.longest:
            self.typed += letter if self.typed[-1:].isalnum() else letter.strip().upper() or self._gap(letter)

    def _gap(self, letter: str) -> str:
        """A blank only between words."""
        return letter if self.typed and not self.typed.endswith(" ") else ""

    def on_kv_post(self, _base: object) -> None:
        """Show what is typed, whoever put it there."""
        self.fbind("typed", self._show)
        self._show()

    def _show(self, *_changed: object) -> None:
        self.shown = Name(self.typed or "–")


class PlacePad(GridLayout):
    """`rows_of_places` are (name, words) by row; dispatches `on_place` with the name touched."""

    __events__ = ("on_place",)
    rows_of_places = ObjectProperty(())
    chosen = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in ("rows_of_places", "chosen"):
            self.fbind(name, self._fill)

    def _fill(self, *_changed: object) -> None:
        self.clear_widgets()
        if not self.rows_of_places:
            return
        self.cols = len(self.rows_of_places[0])
        for name, words in (place for row in self.rows_of_places for place in row):
            button = KeyButton(text=words, main=name == self.chosen, size_hint_y=1, halign="center")
            button.type_px = 16
            button.fbind("on_release", lambda _button, name=name: self.dispatch("on_place", name))
            self.add_widget(button)

    def on_place(self, name: str) -> None:
        """A place was touched."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

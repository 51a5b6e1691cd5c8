"""The two faces of the column beside the drawing: the live indication, or something to decide."""

from __future__ import annotations

from pathlib import Path

from kivy.app import App
from kivy.graphics import Color, Rectangle
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from core.metrology.readings import Quantity
from ui.pages.live_cursor import LiveCursor
from ui.pages.theme import Shape
from ui.touch.widgets.basics import KeyButton
from ui.touch.widgets.digits import Digits  # noqa: F401 - named in the kv file
from ui.touch.widgets.lamp import Lamp, ShapeSign  # noqa: F401 - named in the kv file

NOTHING = LiveCursor(
    quantity=Quantity.LENGTH,
    feature=None,
    name="",
    target="",
    digits="",
    figures=5,
    unit=" mm",
    note="",
    shape=Shape.RING,
    word="",
    hold_fraction=0.0,
    takeable=False,
    deviation=None,
    limit=None,
)


class HoldBar(Widget):
    """Fills while the indication is held steady; full means taken."""

    fraction = NumericProperty(0.0)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._trough_ink, self._trough = Color(), Rectangle()
        self._bar_ink, self._bar = Color(), Rectangle()
        for instruction in (self._trough_ink, self._trough, self._bar_ink, self._bar):
            self.canvas.add(instruction)
        for name in ("fraction", "pos", "size"):
            self.fbind(name, self._place)
        App.get_running_app().bind(palette=self._place)
        self._place()

    def _place(self, *_changed: object) -> None:
        app = App.get_running_app()
        height = app.scale * 14
        bottom = self.y + (self.height - height) / 2
        self._trough_ink.rgba, self._bar_ink.rgba = app.palette.lamp(Shape.RING).fill, app.palette.accent
        self._trough.pos, self._trough.size = (self.x, bottom), (self.width, height)
        self._bar.pos, self._bar.size = (self.x, bottom), (self.width * self.fraction, height)


class CursorStrip(ButtonBehavior, BoxLayout):
    """The other cursor, in one row: its feature, its indication, its lamp."""

    live = ObjectProperty(NOTHING, rebind=True)


class LiveColumn(BoxLayout):
    """The instrument in the hand, large; the other one below; take, type, void."""

    __events__ = ("on_take", "on_type", "on_void", "on_swap")
    large = ObjectProperty(NOTHING, rebind=True)
    small = ObjectProperty(NOTHING, rebind=True)
    can_void = BooleanProperty(False)
    digit_px = NumericProperty(84)
    lamp_caption = StringProperty("")

    def on_take(self) -> None:
        """Take the large indication."""

    def on_type(self) -> None:
        """Key a reading in."""

    def on_void(self) -> None:
        """Void the last reading."""

    def on_swap(self) -> None:
        """Make the small cursor the large one."""


class PanelColumn(BoxLayout):
    """A question in place, both cursors still in sight; dispatches `on_answer` with the choice's stable name."""

    __events__ = ("on_answer",)
    large = ObjectProperty(NOTHING, rebind=True)
    small = ObjectProperty(NOTHING, rebind=True)
    title = StringProperty("")
    text = ObjectProperty("")  # a Part or str
    choices = ListProperty()

    def on_answer(self, name: str) -> None:
        """A choice was touched."""

    def on_choices(self, *_changed: object) -> None:
        """Put up one button a choice; none is the main one: the person decides, once the choices have been seen."""
        App.get_running_app().root.panel_changed()
        grid = self.ids.choices
        grid.clear_widgets()
        for name, words in self.choices:
            button = KeyButton(text=words)
            button.fbind("on_release", lambda _button, name=name: self.dispatch("on_answer", name))
            grid.add_widget(button)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

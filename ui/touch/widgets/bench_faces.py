"""The bench's right half as the power brings it up: the live indication, and what is known of the coupon."""

from pathlib import Path

from kivy.app import App
from kivy.graphics import Color, Rectangle
from kivy.lang import Builder
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING, Part
from ui.pages.bench import Band, LiveBar
from ui.pages.live_cursor import LiveCursor
from ui.pages.theme import Shape
from ui.touch.widgets.basics import Bounded, Filled


class HoldBar(Bounded):
    """Fills while the indication is held steady; full means taken. Nothing is there until it begins."""

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
        self._trough.pos, self._trough.size = (self.x, bottom), (self.width if self.fraction else 0, height)
        self._bar.pos, self._bar.size = (self.x, bottom), (self.width * self.fraction, height)


class CouponBand(ButtonBehavior, Filled, BoxLayout):
    """What is known of the coupon so far: shape, a few large letters, what they are about; touched, it opens all."""

    shape = ObjectProperty(Shape.RING)
    head = ObjectProperty(NOTHING)
    about = ObjectProperty(NOTHING)


class LiveFace(BoxLayout):
    """The feature that is next, its indication, its deviation; below it what is known of the coupon."""

    __events__ = ("on_band",)
    caption = ObjectProperty(NOTHING)
    figures = NumericProperty(5)
    missing = ObjectProperty(NOTHING)
    low = ObjectProperty(NOTHING)
    high = ObjectProperty(NOTHING)
    band_shape = ObjectProperty(Shape.RING)
    band_head = ObjectProperty(NOTHING)
    band_text = ObjectProperty(NOTHING)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._digits, self._hold, self._bar, self._note, self._sign, self._word = (
            self.ids[name].__self__ for name in ("digits", "hold", "bar", "note", "sign", "word")
        )
        self._said: tuple[object, ...] = ()

    def show(self, caption: Part, live: LiveCursor, missing: Part, bar: LiveBar, band: Band) -> None:
        """Show what changed; what is `missing` has the digits' place."""
        self.caption = caption
        self.band_shape, self.band_head, self.band_text = band.shape, band.head, band.text
        self.move(live, missing, bar)

    def move(self, live: LiveCursor, missing: Part, bar: LiveBar) -> None:
        """Show what changed where nothing but an indication has."""
        # What moves with every indication is told where it is shown: a rule costs ten times as much.
        self._digits.text, self._hold.fraction, self._bar.share = live.digits, live.hold_fraction, bar.share
        self._note.text = App.get_running_app().speech.say(bar.note)
        said = missing, live.figures, bar.low, bar.high, bar.shape, bar.word
        if said != self._said:
            self._said = said
            self.missing, self.figures, self.low, self.high, self._sign.shape, self._word.word = said
            self._sign.opacity = 1.0 if bar.word else 0.0

    def on_band(self) -> None:
        """The band was touched."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

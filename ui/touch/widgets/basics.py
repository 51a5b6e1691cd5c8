"""The plain parts of every screen: written text, a button for a gloved finger, grounds and frames."""

import time
from pathlib import Path

from kivy.app import App
from kivy.input.motionevent import MotionEvent
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, ObjectProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.label import Label
from kivy.uix.widget import Widget

from ui.speech import AS_WORDED


class Spoken(Label):
    """A label that words what it is given (`text` is a Part) as the person is spoken to."""

    text = ObjectProperty("")
    speech = ObjectProperty(AS_WORDED)

    def on_speech(self, *_changed: object) -> None:
        """Word the same anew."""
        self._trigger_texture()

    @property
    def read(self) -> str:
        """The text as it is to be read."""
        return self.speech.as_set(self.text) if isinstance(self.text, str) else self.speech.say(self.text)

    def texture_update(self, *args: object) -> None:
        """Draw it as it is to be read; `text` itself stays what it was given."""
        self._label.text = self.read
        super().texture_update(*args)


class Ink(Spoken):
    """Text in the sheet's ink, wrapped at its width."""


def seen_for(touch: MotionEvent, since_s: float, guard_s: float) -> bool:
    """True for a touch whose finger came down when something had been there for `guard_s`, `since_s` by the monotonic
    clock. Kivy stamps touches with the time of day, which may be set meanwhile: only ages are compared."""
    return time.time() - touch.time_start <= time.monotonic() - since_s - guard_s


class Filled(Widget):
    """Lies on a ground of its own."""

    fill = ColorProperty((1, 1, 1, 1))


class Framed(Filled):
    """The same with a frame around it, `inset` px from its edge."""

    frame = ColorProperty((0, 0, 0, 1))
    frame_px = NumericProperty(1)
    inset = NumericProperty(1)


class KeyButton(ButtonBehavior, Framed, Spoken):
    """A framed button; `main` for the one that is meant most often. A double tap counts once, unless `repeats`.
    `small` holds three lines. Other words, or another place, must be seen before a touch counts: an answer of the
    archive may move what a finger is on its way to."""

    main = BooleanProperty(False)
    small = BooleanProperty(False)
    repeats = BooleanProperty(False)
    type_px = NumericProperty(20)  # of the design
    longest = NumericProperty(1)  # letters of the longest word, as it is read
    lettering = ColorProperty((0, 0, 0, 1))

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._since_s = time.monotonic()
        for name in ("pos", "size", "text", "parent", "opacity"):
            self.fbind(name, self._changed)

    def _changed(self, *_change: object) -> None:
        self._since_s = time.monotonic()

    def texture_update(self, *args: object) -> None:
        """Draw the text, and know how long its longest word is."""
        self.longest = max(map(len, self.read.split()), default=1)
        super().texture_update(*args)

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Swallow the second tap of a double tap, for a bouncing finger must not take two readings; and a touch that
        was on its way when the button came here."""
        if self.collide_point(*touch.pos) and not self.disabled:
            app = App.get_running_app()
            if touch.is_double_tap and not self.repeats:
                return True
            if not seen_for(touch, self._since_s, app.guard_s):
                app.root.too_early()
                return True
        return super().on_touch_down(touch)


class Drawn(Widget):
    """Base of what is drawn with the canvas's own means: anew for another value of the properties that it
    `shows`, another place, another theme, another way of speaking."""

    shows: tuple[str, ...] = ()

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        for name in (*self.shows, "pos", "size"):
            self.fbind(name, self._redraw)
        App.get_running_app().bind(palette=self._redraw, speech=self._redraw)

    def _redraw(self, *_changed: object) -> None:
        raise NotImplementedError


Bounds = tuple[float, float, float, float]  # left, bottom, right and top, px


class Bounded(Widget):
    """Draws nothing outside its `bounds`, and in no colour but its own, so that a frame in which only such widgets have
    changed is drawn there alone (`ui/touch/repaint.py`)."""

    @property
    def bounds(self) -> Bounds:
        """Where it draws, as its place is said; its box, for one that draws nowhere else."""
        return self.x, self.y, self.right, self.top

    def take_changed(self) -> Bounds | None:
        """Where it draws otherwise than when this was asked last; None for anywhere within its bounds, then or now."""
        return None


class MovingInk(Ink, Bounded):
    """Words with a number in them that follows an instrument; they may stand out of their box."""

    @property
    def bounds(self) -> Bounds:
        """Its box, and its words about the middle of it."""
        left, low, right, high = super().bounds
        wide, tall = (part / 2 + 1 for part in self.texture_size)
        x, y = self.center
        return min(left, x - wide), min(low, y - tall), max(right, x + wide), max(high, y + tall)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))

"""Kivy's application object: theme, scale, and the one trigger through which snapshots reach the screen."""

import time
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.graphics import Color, Rectangle
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from core.numeric import load_numpy
from core.said import Part
from firmware_bridge import FocusedKeyboard
from ui.bench import SAID_S, TICK_S, Bench, Box
from ui.pages.coupon import CouponDraft
from ui.pages.theme import DARK, LIGHT, TOUCH_GUARD_S, Palette, scale_for, target_for
from ui.speech import AS_KEPT, AS_WORDED
from ui.state import Settings, Snapshot, Theme
from ui.touch.garbage import Garbage
from ui.touch.in_hand import InHand
from ui.touch.repaint import Repaint
from ui.touch.screen import SCREENS
from ui.touch.shell import Shell

# How soon a silent instrument is greyed, beside the time it takes to be stale.
SILENCE_CHECK_S = 0.5
# On a bare panel SDL makes its surface anew behind the first frame, which is lost: the second is the first to be seen.
FRAMES_UNTIL_SEEN = 2
# Between one screen's module and the next, once the first screen is seen: the menu, which has a door to each, then
# opens at once, and a finger or a number comes between any two.
LOAD_EVERY_S = 0.1
ENDING_KEYS = {13: "\r", 271: "\r", 9: "\t"}  # Enter, Enter of the number pad, Tab


class Sleep:
    """So long without touch or news the panel is painted black; never, until it is told how long."""

    def __init__(self) -> None:
        self._after_s: float | None = None
        self._cover: Widget | None = None
        self._stirred_s = Clock.get_time()

    def after(self, after_s: float | None) -> None:
        """Go dark after this long."""
        self._after_s = after_s

    @property
    def is_asleep(self) -> bool:
        """True while the panel is dark."""
        return self._cover is not None

    def quiet_s(self) -> float:
        """So long there was neither touch nor news."""
        return Clock.get_time() - self._stirred_s

    def touched(self, _window: object, _touch: object) -> bool:
        """A touch came; True when it only wakes the panel, so that it presses no button in the dark."""
        was_asleep = self.is_asleep
        self.news()
        return was_asleep

    def news(self) -> None:
        """Something to see: wake, and count anew."""
        self._stirred_s = Clock.get_time()
        if self._cover is not None:
            Window.remove_widget(self._cover)
            self._cover = None

    def check(self, _elapsed_s: float) -> None:
        """Go dark when it is time."""
        if self._after_s is None or self.is_asleep or self.quiet_s() < self._after_s:
            return
        self._cover = Widget(size=Window.size)
        with self._cover.canvas:
            Color(0, 0, 0, 1)
            Rectangle(pos=(0, 0), size=Window.size)
        Window.add_widget(self._cover)


class BenchApp(App):
    """Pumps the bench when something waits in its queue; draws only when the snapshot changed."""

    title = "Cornerwise"
    palette = ObjectProperty(LIGHT, rebind=True)
    notation = ObjectProperty(AS_KEPT)
    speech = ObjectProperty(AS_WORDED.in_type)
    scale = NumericProperty(1.0)
    target = NumericProperty(0.0)  # least side of what is touched, px
    portrait = BooleanProperty(False)
    asks_language = BooleanProperty(False)  # until one is chosen, or a coupon was finished without asking

    def __init__(
        self,
        bench: Bench,
        *,
        box: Box | None = None,
        switch_off: Callable[[], Part] | None = None,
        set_clock: Callable[[datetime], Part] | None = None,
        guard_s: float = TOUCH_GUARD_S,
        opens: str = "",
        **kwargs: object,
    ) -> None:
        super().__init__(**kwargs)
        self.bench = bench
        self.box = box
        self.switch_off = switch_off
        self.set_clock = set_clock
        self.guard_s = guard_s
        self._opens = opens
        self.snapshot: Snapshot = bench.snapshot
        self._sleep = Sleep()
        self._garbage = Garbage(self._sleep.quiet_s)
        self._settings: Settings | None = None
        self.in_hand = InHand()
        self.looked_at = ""
        self.coupon_draft: CouponDraft | None = None
        self._typing = FocusedKeyboard()
        self._trigger = Clock.create_trigger(self._show_newest)
        # What the archive is at is said once it has taken so long, and nothing wakes the bench for that.
        self._look_soon = Clock.create_trigger(self._show_newest, SAID_S)
        self._frames_shown = 0
        # What the first reading will be judged with, and the screens: each when nobody waits.
        self._to_load: Iterator[Callable[[], object]] = iter(
            (load_numpy, *(partial(SCREENS.__getitem__, name) for name in SCREENS))
        )
        self._repaint = Repaint()

    def build(self) -> Shell:
        """Make the shell and begin to listen."""
        self._garbage.begin()
        Window.bind(size=self._fit, on_key_down=self._key, on_touch_down=self._sleep.touched)
        self._fit(Window, Window.size)
        self._follow(self.snapshot.settings)
        shell = Shell()
        if self._opens:
            shell.go(self._opens)
        # Called from any thread: it may only pull the trigger.
        self.bench.subscribe(lambda: self._trigger())
        self._trigger()
        # Nothing wakes the bench when an instrument falls silent, yet its last value grows old.
        Clock.schedule_interval(self._show_newest, SILENCE_CHECK_S)
        Clock.schedule_interval(self._sleep.check, SILENCE_CHECK_S)
        if self.box is not None:
            self.box.start()
        Window.bind(on_flip=self._frame_shown, on_draw=self._repaint.draw)
        return shell

    def _follow(self, settings: Settings) -> None:
        """What the person chose takes effect at once, on every screen."""
        if settings == self._settings:
            return
        self._settings = settings
        Window.rotation = settings.rotation_deg
        self._sleep.after(settings.sleep_min * 60.0 or None)
        self.notation = settings.notation
        self.speech = settings.speech.in_type
        self.palette = DARK if settings.theme is Theme.DARK else LIGHT
        # Drawings follow the palette: they are drawn anew for another notation as well.
        self.property("palette").dispatch(self)

    def on_palette(self, _app: App, palette: Palette) -> None:
        """The paper is what the window is wiped with: laid over it, it would be every pixel once more."""
        Window.clearcolor = palette.paper

    def open_settings(self, *_args: object) -> bool:
        """F1 opens nothing: no key leads out of the program."""
        return False

    def _key(self, _window: object, key: int, _scancode: int, codepoint: str | None, _modifiers: object) -> None:
        """What an instrument types into this window is its reading."""
        character = ENDING_KEYS.get(key, codepoint or "")
        for event in self._typing.key(character, self.in_hand.quantity, time.monotonic()):
            self.bench.post(event)

    def _fit(self, _window: object, size: tuple[float, float]) -> None:
        self.scale, self.target = scale_for(*size), target_for(*size)
        self.portrait = size[1] > size[0]

    def _show_newest(self, _elapsed_s: float) -> None:
        snapshot = self.bench.pump()
        if self.box is not None:
            self.box.bench_answered(workers=self.bench.workers_answer())
        if snapshot is not self.snapshot and self.root is not None:
            self._sleep.news()
            self.snapshot = snapshot
            self._follow(snapshot.settings)
            self.root.show(snapshot)
            if snapshot.storing and snapshot.work is None:
                self._look_soon()
            if snapshot.keep.starts_anew:
                self.stop()  # systemd starts it again, and what was fetched is taken back

    def _frame_shown(self, *_event: object) -> None:
        """The box ticks, and so says that the bench is ready, only once something is to be seen."""
        self._frames_shown += 1
        if self._frames_shown < FRAMES_UNTIL_SEEN:
            Window.canvas.ask_update()
            return
        Window.unbind(on_flip=self._frame_shown)
        Clock.schedule_interval(self._load_next, LOAD_EVERY_S)
        if self.box is not None:
            Clock.schedule_interval(self._tick_box, TICK_S)

    def _load_next(self, _elapsed_s: float) -> bool:
        load = next(self._to_load, None)
        if load is not None:
            load()
        return load is not None

    def _tick_box(self, _elapsed_s: float) -> None:
        assert self.box is not None
        for command in self.box.tick(self.snapshot, self.in_hand.quantity):
            self.bench.send(command)

    def on_stop(self) -> None:
        """The window is gone: so are the lamps, and what listened to window and clock, which outlive this run."""
        Window.unbind(size=self._fit, on_key_down=self._key, on_touch_down=self._sleep.touched)
        Window.unbind(on_flip=self._frame_shown, on_draw=self._repaint.draw)
        self._repaint.stop()
        self._sleep.news()
        for step in (self._show_newest, self._sleep.check, self._load_next, self._tick_box):
            Clock.unschedule(step)
        if self.root is not None and self.root.screen is not None:
            self.root.screen.dispatch("on_leave")  # a screen that looks up by itself in sight
        if self.box is not None:
            self.box.close()
        self._garbage.end()

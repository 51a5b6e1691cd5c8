"""A panel that goes dark when nobody is there: woken by a touch, which touches nothing else, or by news."""

from __future__ import annotations

from kivy.clock import Clock
from kivy.core.window import Window
from kivy.graphics import Color, Rectangle
from kivy.uix.widget import Widget


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
        if self._after_s is None or self.is_asleep or Clock.get_time() - self._stirred_s < self._after_s:
            return
        self._cover = Widget(size=Window.size)
        with self._cover.canvas:
            Color(0, 0, 0, 1)
            Rectangle(pos=(0, 0), size=Window.size)
        Window.add_widget(self._cover)

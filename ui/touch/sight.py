"""Whether a touch was meant for the screen in sight. A screen that is slow to come would be pressed unseen.

Input: screen changes, touches. Output: yes or no. A finger that came down before the new screen was on the panel meant
the old one; taps in a frame that takes long (a card that syncs, a first drawing) wait in the input's queue and arrive
behind the change.
"""

from __future__ import annotations

import time

from kivy.clock import Clock
from kivy.core.window import Window
from kivy.input.motionevent import MotionEvent


class Sight:
    """Since when the screen has been on the panel."""

    def __init__(self) -> None:
        self._since_s: float | None = None
        # A frame later: only then has the panel taken over what was drawn.
        self._shown = Clock.create_trigger(self._begin)

    def changes(self) -> None:
        """Another screen comes; nobody sees it until it is drawn."""
        self._since_s = None
        self._shown.cancel()
        Window.bind(on_flip=self._drawn)

    def was_there_for(self, touch: MotionEvent) -> bool:
        """True for a touch whose finger came down with this screen on the panel."""
        if self._since_s is None:
            return False
        # Kivy stamps touches with the time of day, which may be set meanwhile: only ages are compared.
        return time.time() - touch.time_start <= time.monotonic() - self._since_s

    def _drawn(self, *_event: object) -> None:
        Window.unbind(on_flip=self._drawn)
        self._shown()

    def _begin(self, _elapsed_s: float) -> None:
        self._since_s = time.monotonic()

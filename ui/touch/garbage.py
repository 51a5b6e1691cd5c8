"""Widgets that nobody holds any more go between two turns of the window's loop, never in the midst of one.

Awake, Python's collector comes whenever something is made, on whichever thread. A widget that goes while a rule of its
own is at work ends that rule in an error, and the rules behind it are not asked: half of the screen stays as it was.
"""

import gc
from collections.abc import Callable

from kivy.clock import Clock

LOOKS_EVERY_S = 0.5
# To look through all that has been in sight for long takes many frames: it is left for a moment in which nothing is
# shown and nothing touched, unless none comes until so many times more is due.
QUIET_S = 5.0
WAITS_TIMES = 4


class Garbage:
    """The collector, asleep but for its own looks; `quiet_s` says for how long nobody has done or seen anything."""

    def __init__(self, quiet_s: Callable[[], float]) -> None:
        self._quiet_s = quiet_s

    def begin(self) -> None:
        """From here on the collector comes only when it is sent for: a clock's turn is inside no rule, no drawing."""
        gc.disable()
        Clock.schedule_interval(self._look, LOOKS_EVERY_S)

    def end(self) -> None:
        """The window is gone: the collector comes by itself again."""
        Clock.unschedule(self._look)
        gc.enable()

    def _look(self, _elapsed_s: float) -> None:
        """Collect the oldest generation that has come to its threshold, as the collector itself would; the last one,
        while somebody is at work, only at WAITS_TIMES its own."""
        young, middle, old = gc.get_threshold()
        waits = 1 if self._quiet_s() >= QUIET_S else WAITS_TIMES
        most = (young, middle, old * waits)
        due = [age for age, made in enumerate(gc.get_count()) if made > most[age]]
        if due:
            gc.collect(due[-1])

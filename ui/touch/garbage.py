"""Widgets that nobody holds any more go between two turns of the window's loop, never in the midst of one.

Awake, Python's collector comes whenever something is made, on whichever thread. A widget that goes while a rule of its
own is at work ends that rule in an error, and the rules behind it are not asked: half of the screen stays as it was.
"""

import gc

from kivy.clock import Clock

LOOKS_EVERY_S = 0.5


def begin() -> None:
    """From here on the collector comes only when it is sent for: a clock's turn is inside no rule and no drawing."""
    gc.disable()
    Clock.schedule_interval(look, LOOKS_EVERY_S)


def end() -> None:
    """The window is gone: the collector comes by itself again."""
    Clock.unschedule(look)
    gc.enable()


def look(_elapsed_s: float) -> None:
    """Collect the oldest generation that has come to its threshold, as the collector itself would."""
    due = [age for age, (made, most) in enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True)) if made > most]
    if due:
        gc.collect(due[-1])

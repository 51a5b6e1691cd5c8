"""How far a command is, in one line of the terminal that is written over and then taken away.

Input: what it does, in words, and a stream. Output: who to tell (`core/progress.py`). Into a file or a pipe nothing is
said: a line that is written over is no line there.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from core.progress import Told, nobody
from core.said import Part
from ui.speech import Speech
from ui.state import WorkSlice
from ui.terminal.harmless_stream import harmless, steered

_TAKE_AWAY = "\r\x1b[K"


@contextmanager
def waiting(stream: TextIO, speech: Speech, what: Part) -> Iterator[Told]:
    """Say what it does and, once that is known, how far it is, for as long as the block lasts."""
    if not stream.isatty():
        yield nobody
        return
    last, line = -1, steered(stream)

    def show(percent: int | None) -> None:
        words = speech.say(WorkSlice(key=0, what=what, percent=percent).words)
        line.write(_TAKE_AWAY + harmless(words)[: shutil.get_terminal_size().columns - 1])
        line.flush()

    def told(done: int, of: int) -> None:
        nonlocal last
        percent = min(100, 100 * done // max(of, 1))
        if percent != last:
            last = percent
            show(percent)

    try:
        show(None)
        yield told
    finally:
        line.write(_TAKE_AWAY)
        line.flush()

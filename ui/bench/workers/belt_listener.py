"""Listening to a belt without stopping the bench: a thread records, hears, and reports through the bench's queue.

Input: which belt. Output: `BeltHeard`, posted once for every request.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from core.errors import CornerwiseError
from core.machine.belt_note import BeltNote, belt_note
from core.machine.sound_file import Recording
from ui.bench.workers.microphone import record
from ui.state.commands import BeltHeard

LISTEN_S = 5


class BeltListener:
    """Called with True for the first belt, False for the second; `record_for` records for some seconds."""

    def __init__(self, post: Callable[[BeltHeard], None], record_for: Callable[[int], Recording] = record) -> None:
        self._post = post
        self._record_for = record_for

    def __call__(self, first: bool) -> None:
        """Begin to listen; returns at once."""
        threading.Thread(target=self._listen, args=(first,), name="belt listener", daemon=True).start()

    def _listen(self, first: bool) -> None:
        try:
            recording = self._record_for(LISTEN_S)
        except CornerwiseError as error:
            self._post(BeltHeard(first=first, note=None, text=str(error)))
            return
        heard = belt_note(recording.samples, recording.rate_hz)
        if isinstance(heard, BeltNote):
            text = f"{heard.frequency_hz.value:.1f} ± {heard.frequency_hz.U95:.1f} Hz, {heard.plucks} plucks"
            self._post(BeltHeard(first=first, note=heard, text=text))
        else:
            self._post(BeltHeard(first=first, note=None, text=heard.text))

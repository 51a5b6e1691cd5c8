"""Listening to a belt without stopping the bench: a thread records, hears, and reports through the bench's queue.

Input: which belt. Output: `BeltHeard`, posted once for every request.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from core.errors import BadInputError, CornerwiseError, NotAvailableError
from core.machine.belt_note import BeltNote, NoNote, belt_note
from core.machine.sound_file import Recording, read_wav
from core.said import Name, Number, Part, said, said_counted
from ui.bench.supervision import guarded
from ui.state.messages import Report

LISTEN_S = 5


RECORDER = "arecord"


RATE_HZ = 16000


def record(seconds: int) -> Recording:
    """Record for some whole seconds; raises NotAvailableError without recorder or microphone."""
    program = shutil.which(RECORDER)
    if program is None:
        raise NotAvailableError(
            said("no sound recorder here (arecord, Debian package alsa-utils): give two WAV files instead")
        )
    command = [program, "-q", "-d", str(seconds), "-t", "wav", "-f", "S16_LE", "-c", "1", "-r", str(RATE_HZ)]
    try:
        done = subprocess.run(command, capture_output=True, timeout=seconds + 10.0, check=False)
    except subprocess.TimeoutExpired as exc:
        raise NotAvailableError(said("the microphone does not answer: is it in use by another program?")) from exc
    if done.returncode != 0 or not done.stdout:
        words = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise NotAvailableError(
            said(
                "no recording from the microphone: {reason}", reason=Name(words[-1]) if words else said("nothing came")
            )
        )
    return read_wav(io.BytesIO(done.stdout))


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltHeard(Report):
    """What came of listening: the note, or None and the words why there is none."""

    first: bool
    note: BeltNote | None
    text: Part


class BeltListener:
    """Called with True for the first belt, False for the second; `record_for` records for some seconds."""

    def __init__(self, post: Callable[[BeltHeard], None], record_for: Callable[[int], Recording] = record) -> None:
        self._post = post
        self._record_for = record_for

    def __call__(self, first: bool) -> None:
        """Begin to listen; returns at once."""

        def failed(text: Part) -> None:
            self._post(BeltHeard(first=first, note=None, text=text))

        def run() -> None:
            guarded("belt listener", lambda: self._listen(first), failed)

        threading.Thread(target=run, name="belt listener", daemon=True).start()

    def _listen(self, first: bool) -> None:
        try:
            recording = self._record_for(LISTEN_S)
        except CornerwiseError as error:
            self._post(BeltHeard(first=first, note=None, text=error.what))
            return
        heard = belt_note(recording.samples, recording.rate_hz)
        if isinstance(heard, BeltNote):
            text = said_counted(
                "{frequency} ± {u}, {count} pluck",
                "{frequency} ± {u}, {count} plucks",
                count=heard.plucks,
                frequency=Number(heard.frequency_hz.value, 1),
                u=Number(heard.frequency_hz.U95, 1, sign="Hz"),
            )
            self._post(BeltHeard(first=first, note=heard, text=text))
        else:
            self._post(BeltHeard(first=first, note=None, text=heard.text))


def note_of_file(file: Path) -> BeltNote:
    """The note of a belt in a WAV file; raises BadInputError, with what was heard instead, where there is none."""
    recording = read_wav(file)
    note = belt_note(recording.samples, recording.rate_hz)
    if isinstance(note, NoNote):
        raise BadInputError(said("{file}: {what}", file=Name(str(file)), what=note.text))
    return note

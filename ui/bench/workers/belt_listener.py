"""Listening to a belt without stopping the bench: a thread records, hears, and reports through the bench's queue.

Input: which belt. Output: `BeltHeard`, posted once for every request.
"""

import io
import shutil
import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from core.errors import BadInputError, CornerwiseError, NotAvailableError
from core.machine import BeltNote, NoNote, Recording, read_wav
from core.machine.belt_note import belt_note
from core.progress import Told, nobody
from core.said import Name, Number, Part, said, said_counted
from ui.bench.supervision import guarded
from ui.bench.workers.work import under_way
from ui.state import Report

LISTEN_S = 5
PATIENCE_S = 10  # what a sound card may take to begin and to end
RECORDER = "arecord"
RATE_HZ = 16000
RecordFor = Callable[[int, Told], Recording]


def record(seconds: int, told: Told = nobody) -> Recording:
    """Record for some whole seconds, and say how many are gone; raises NotAvailableError without recorder or
    microphone."""
    program = shutil.which(RECORDER)
    if program is None:
        raise NotAvailableError(
            said("no sound recorder here (arecord, Debian package alsa-utils): give two WAV files instead")
        )
    command = [program, "-q", "-d", str(seconds), "-t", "wav", "-f", "S16_LE", "-c", "1", "-r", str(RATE_HZ)]
    heard, complaint = _recorded(command, seconds, told)
    if not heard:
        words = complaint.decode("utf-8", "replace").strip().splitlines()
        raise NotAvailableError(
            said(
                "no recording from the microphone: {reason}", reason=Name(words[-1]) if words else said("nothing came")
            )
        )
    return read_wav(io.BytesIO(heard))


def _recorded(command: list[str], seconds: int, told: Told) -> tuple[bytes, bytes]:
    """What the recorder wrote, nothing where it failed, and what it complained of."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as recorder:
        try:
            for second in range(seconds + PATIENCE_S):
                told(min(second, seconds), seconds)
                with suppress(subprocess.TimeoutExpired):
                    heard, complaint = recorder.communicate(timeout=1.0)
                    return (heard if recorder.returncode == 0 else b""), complaint
        finally:
            recorder.kill()
    raise NotAvailableError(said("the microphone does not answer: is it in use by another program?"))


class BeltHeard(Report, frozen=True, kw_only=True):
    """What came of listening: the note, or None and the words why there is none."""

    first: bool
    note: BeltNote | None
    text: Part


class BeltListener:
    """Called with True for the first belt, False for the second; `record_for` records for some seconds."""

    def __init__(self, post: Callable[[Report], None], record_for: RecordFor = record) -> None:
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
            with under_way(self._post, said("listening to the belt")) as work:
                recording = self._record_for(LISTEN_S, work.told)
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

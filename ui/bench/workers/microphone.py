"""A microphone by way of the system's recorder, `arecord` (ALSA), where it is present."""

from __future__ import annotations

import io
import shutil
import subprocess

from core.errors import NotAvailableError
from core.machine.sound_file import Recording, read_wav

RECORDER = "arecord"
RATE_HZ = 16000


def record(seconds: int) -> Recording:
    """Record for some whole seconds; raises NotAvailableError without recorder or microphone."""
    program = shutil.which(RECORDER)
    if program is None:
        raise NotAvailableError(
            "no sound recorder here (arecord, Debian package alsa-utils): give two WAV files instead"
        )
    command = [program, "-q", "-d", str(seconds), "-t", "wav", "-f", "S16_LE", "-c", "1", "-r", str(RATE_HZ)]
    try:
        done = subprocess.run(command, capture_output=True, timeout=seconds + 10.0, check=False)
    except subprocess.TimeoutExpired as exc:
        raise NotAvailableError("the microphone does not answer: is it in use by another program?") from exc
    if done.returncode != 0 or not done.stdout:
        words = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise NotAvailableError(f"no recording from the microphone: {words[-1] if words else 'nothing came'}")
    return read_wav(io.BytesIO(done.stdout))

"""The speaker: sounds what it is given, in a thread of its own, and never holds anybody up.

Input: cues. Output: sound, through the system's own player (aplay, Debian package alsa-utils), which works without a
desktop; words by the system's own synthesiser (espeak-ng), which needs no network. Each word is made once and kept.
What cannot be sounded is said once, by `SpeakerRefused`: everything heard is to be seen as well.
"""

import io
import os
import shutil
import subprocess
import threading
from collections.abc import Callable, Mapping
from functools import partial

from core.errors import NotAvailableError
from core.machine import read_wav
from core.numeric import FloatArray, np
from core.said import NOTHING, Name, Part, said
from hardware.sound_devices import sound_devices
from ui.bench.hearing import Cue, Tone
from ui.bench.supervision import answered
from ui.speech import Language
from ui.state import Report

Samples = FloatArray
PLAYER, SYNTHESISER = "aplay", "espeak-ng"
RATE_HZ = 22050  # that of the synthesiser
LOUDNESS = 0.5
EDGE_S = 0.005  # a tone that begins at once clicks
BETWEEN_WORDS_S = 0.05
# What a sound card may take beyond the sound itself, to wake and to drain.
PATIENCE_S = 5.0
# What the synthesiser leaves before and behind a word, of its loudest part.
_SILENCE = 0.02


class SpeakerRefused(Report, frozen=True, kw_only=True):
    """Something could not be sounded; `text` says why."""

    text: Part


class Speaker:
    """`play` sounds samples (RATE_HZ, within ±1) and returns when they were heard; `synthesise` makes those of a word.
    Both may raise NotAvailableError."""

    def __init__(
        self,
        play: Callable[[Samples], None] | None = None,
        synthesise: Callable[[str, Language], Samples] | None = None,
    ) -> None:
        self._play = play or played
        self._synthesise = synthesise or synthesised
        self._words: dict[tuple[str, Language], Samples] = {}
        self._news = threading.Condition()
        self._waiting: Cue | None = None
        self._closed = False
        self._thread: threading.Thread | None = None
        self._post: Callable[[Report], None] = lambda report: None
        self._refused: Part = NOTHING

    def start(self, post: Callable[[Report], None]) -> None:
        """Tell `post` what cannot be sounded; the thread begins with the first cue: most benches have no speaker."""
        self._post = post

    def hear(self, cue: Cue) -> None:
        """Sound this when what is sounding has ended; of what waits, one cue is kept: the newest that matters."""
        with self._news:
            if self._closed or (cue.passing and self._waiting is not None and not self._waiting.passing):
                return
            self._waiting = cue
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="speaker", daemon=True)
                self._thread.start()
            self._news.notify()

    def close(self) -> None:
        """End the thread, once what is sounding has ended."""
        with self._news:
            self._closed, self._waiting = True, None
            self._news.notify()
        if self._thread is not None:
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        while (cue := self._next()) is not None:
            answered("speaker", partial(self._sound, cue), self._say_once)

    def _next(self) -> Cue | None:
        with self._news:
            while self._waiting is None and not self._closed:
                self._news.wait()
            cue, self._waiting = self._waiting, None
            return cue

    def _sound(self, cue: Cue) -> None:
        try:
            words = self._spoken(cue)
        except NotAvailableError as error:
            self._say_once(error.what)
            words = []
        self._play(LOUDNESS * np.concatenate([*map(samples_of, cue.tones), *words]))

    def _spoken(self, cue: Cue) -> list[Samples]:
        pause = np.zeros(int(BETWEEN_WORDS_S * RATE_HZ))
        return [part for word in cue.words for part in (pause, self._word(word, cue.language))]

    def _word(self, word: str, language: Language) -> Samples:
        if (word, language) not in self._words:
            self._words[word, language] = trimmed(self._synthesise(word, language))
        return self._words[word, language]

    def _say_once(self, why: Part) -> None:
        """Not at every reading."""
        if why != self._refused:
            self._refused = why
            self._post(SpeakerRefused(text=why))


def samples_of(tone: Tone) -> Samples:
    """A tone with soft edges."""
    t_s = np.arange(int(tone.seconds * RATE_HZ)) / RATE_HZ
    edge = np.minimum(1.0, np.minimum(t_s, tone.seconds - t_s) / EDGE_S)
    return np.sin(2.0 * np.pi * tone.hz * t_s) * edge


def trimmed(word: Samples) -> Samples:
    """A word without the silence around it, as loud as any other."""
    peak = float(np.max(np.abs(word), initial=0.0))
    if peak == 0.0:
        return word
    heard = np.flatnonzero(np.abs(word) > _SILENCE * peak)
    return word[heard[0] : heard[-1] + 1] / peak


def synthesised(word: str, language: Language) -> Samples:
    """A word by the system's synthesiser; raises NotAvailableError where there is none."""
    program = shutil.which(SYNTHESISER)
    if program is None:
        raise NotAvailableError(said("numbers are not spoken: there is no synthesiser (Debian package espeak-ng)"))
    heard = _output([program, "-v", language.value, "--stdout", word], b"", PATIENCE_S)
    recording = read_wav(io.BytesIO(heard))
    if recording.rate_hz != RATE_HZ:
        places = np.arange(0.0, len(recording.samples), recording.rate_hz / RATE_HZ)
        return np.asarray(np.interp(places, np.arange(len(recording.samples)), recording.samples), dtype=np.float64)
    return recording.samples


def played(samples: Samples) -> None:
    """Through the system's player, and heard when it returns; raises NotAvailableError where there is no speaker."""
    program = shutil.which(PLAYER)
    if program is None:
        raise NotAvailableError(said("nothing is sounded: there is no player (aplay, Debian package alsa-utils)"))
    content = (np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2").tobytes()
    command = [program, "-q", "-t", "raw", "-f", "S16_LE", "-c", "1", "-r", str(RATE_HZ)]
    # Which card the sound system's own default is; where a desktop's default is another, that one stays.
    devices = sound_devices()
    card = {"ALSA_CARD": str(devices[0].card)} if devices else {}
    _output(command, content, len(samples) / RATE_HZ + PATIENCE_S, {**card, **os.environ})


def _output(
    command: list[str], content: bytes, timeout_s: float, environment: Mapping[str, str] | None = None
) -> bytes:
    try:
        done = subprocess.run(
            command, input=content, capture_output=True, timeout=timeout_s, check=False, env=environment
        )
    except subprocess.TimeoutExpired as exc:
        raise NotAvailableError(said("the speaker does not answer: is it in use by another program?")) from exc
    if done.returncode != 0:
        words = done.stderr.decode("utf-8", "replace").strip().splitlines()
        why = Name(words[-1]) if words else Name(str(done.returncode))
        raise NotAvailableError(said("nothing is heard from the speaker: {reason}", reason=why))
    return done.stdout

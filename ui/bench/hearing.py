"""What is to be heard on the step from one snapshot to the next: tones, the figures of a reading, the null meter.

Input: snapshots. Output: cues for whoever sounds them; whatever is heard is to be seen as well. The rhythms are those
of the lamp box (hearing protection is worn, so nothing is told by pitch alone); only the null meter is a pitch, that
rises to the goal, where it becomes a double tone.
"""

from collections.abc import Callable
from typing import Protocol

from msgspec import Struct

from core.machine import Stage
from core.metrology import Reading, Verdict
from hardware import PAUSE_S, RHYTHMS, Rhythm
from ui.speech import Language
from ui.speech.spoken import spoken
from ui.state import Audible, Settings, Snapshot

# The middle of what ears hear best, and what is left of it with age and behind muffs; common practice for alarms is
# 500 to 3000 Hz (ISO 7731, from memory).
_HZ = {
    Rhythm.TAKEN: 1200.0,
    Rhythm.REFUSED: 500.0,
    Rhythm.QUESTION: 800.0,
    Rhythm.GO: 1600.0,
    Rhythm.NO_GO: 600.0,
    Rhythm.CONTRADICTION: 600.0,
}
FAR_HZ, GOAL_HZ = 500.0, 2000.0
METER_EVERY_S, METER_TONE_S = 0.3, 0.06


class Tone(Struct, frozen=True, kw_only=True):
    """So many hertz for so long; 0 is silence."""

    hz: float
    seconds: float


class Cue(Struct, frozen=True, kw_only=True):
    """What is heard at once: tones, then words. A `passing` one gives way to any other: the next comes soon."""

    tones: tuple[Tone, ...]
    words: tuple[str, ...] = ()
    language: Language = Language.ENGLISH
    passing: bool = False


class Loudspeaker(Protocol):
    """Who sounds cues; never blocks."""

    def hear(self, cue: Cue) -> None:
        """Sound this soon; what waits unheard gives way to it."""
        ...


class Hearing:
    """Follows the bench's snapshots; `clock_s` spaces the tones of the null meter."""

    def __init__(self, loudspeaker: Loudspeaker, clock_s: Callable[[], float]) -> None:
        self._loudspeaker = loudspeaker
        self._clock_s = clock_s
        self._metered_s = clock_s()

    def follow(self, before: Snapshot, now: Snapshot) -> None:
        """Have heard what is new."""
        if now.settings.audible is Audible.SILENT:
            return
        cue = cue_of(before, now)
        if cue is None and self._clock_s() - self._metered_s >= METER_EVERY_S:
            cue = meter_cue(before, now)
            self._metered_s = self._clock_s() if cue else self._metered_s
        if cue is not None:
            self._loudspeaker.hear(cue)


def cue_of(before: Snapshot, now: Snapshot) -> Cue | None:
    """What has just happened; only the weightiest is heard. Whoever switches the speaker on hears it."""
    word = rhythm(before, now)
    if before.settings.audible is Audible.SILENT:
        word = Rhythm.TAKEN
    taken = taken_reading(before, now)
    words = figures(taken, now.settings) if taken and now.settings.audible is Audible.SPOKEN else ()
    if word is None:
        return None
    return Cue(tones=tones(word), words=words, language=now.settings.language)


def rhythm(before: Snapshot, now: Snapshot) -> Rhythm | None:
    """What is said by the rhythm of sounds on the step from one snapshot to the next; only the weightiest word."""
    if now.verdict is Verdict.INCONSISTENT and before.verdict is not Verdict.INCONSISTENT:
        return Rhythm.CONTRADICTION
    if _is_settled(now) and not (_is_settled(before) and before.verdict == now.verdict) and now.verdict in _ANNOUNCED:
        return _ANNOUNCED[now.verdict]
    if any(message.alarm and message != before.message for message in now.said_since(before)):
        return Rhythm.REFUSED
    if now.question is not None and now.question != before.question:
        return Rhythm.QUESTION
    return Rhythm.TAKEN if taken_reading(before, now) else None


_ANNOUNCED = {Verdict.GO: Rhythm.GO, Verdict.NO_GO: Rhythm.NO_GO}


def taken_reading(before: Snapshot, now: Snapshot) -> Reading | None:
    """The reading that was accepted on this step."""
    taken = now.session == before.session and len(now.readings) > len(before.readings)
    return now.readings[-1].reading if taken else None


def figures(reading: Reading, settings: Settings) -> tuple[str, ...]:
    """A reading's figures in words, as the person has lengths and angles written."""
    notation = settings.notation
    is_length = reading.feature.is_length
    text = notation.length_digits(reading.value, 2) if is_length else notation.angle(reading.value)
    return spoken(text, settings.language)


def tones(word: Rhythm) -> tuple[Tone, ...]:
    """The rhythm as tones, one pitch a word."""
    pause = Tone(hz=0.0, seconds=PAUSE_S)
    sounded = [(Tone(hz=_HZ[word], seconds=length_s), pause) for length_s in RHYTHMS[word]]
    return tuple(tone for pair in sounded for tone in pair)[:-1]


def meter_cue(before: Snapshot, now: Snapshot) -> Cue | None:
    """The null meter, while an end is set by hand and its gap has just moved: higher as less is left to go."""
    guided, gap_mm = now.machines.guided, now.live_length.value
    if guided is None or guided.stage is not Stage.SET or gap_mm is None or gap_mm == before.live_length.value:
        return None
    meter = guided.to_go(gap_mm)
    if meter is None:
        return None
    if meter.inside:
        goal, pause = Tone(hz=GOAL_HZ, seconds=METER_TONE_S), Tone(hz=0.0, seconds=METER_TONE_S)
        return Cue(tones=(goal, pause, goal), passing=True)
    left = meter.to_go_mm / guided.begun.move_mm
    if left > 2.0:
        return None  # the jaws are elsewhere
    hz = FAR_HZ * (GOAL_HZ / FAR_HZ / 2.0) ** (1.0 - min(left, 1.0))  # an octave below the goal's tone at most
    return Cue(tones=(Tone(hz=hz, seconds=METER_TONE_S),), passing=True)


def _is_settled(snapshot: Snapshot) -> bool:
    return snapshot.evaluation is not None and snapshot.evaluation.settled

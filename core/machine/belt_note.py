"""Belt notes: the frequency of a plucked belt from a recording.

Stage: correction (cause). Input: sound samples. Output: the note with its uncertainty, or why there is none. A pluck
is told from other sounds by three marks: it starts suddenly, its energy sits in a fundamental and its overtones, and
it dies away at a steady pitch.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.metrology import Estimate
from core.numeric import FloatArray, np
from core.said import Number, Said, said, said_counted

LOWEST_HZ = 20.0
HIGHEST_HZ = 500.0
_OVERTONES_TO_HZ = 3000.0
_FRAME_S = 0.01
_ONSET_RISE = 4.0  # a pluck stands out of what was before by this factor within two frames
_ATTACK_S = 0.03  # the finger's own noise
_SHORTEST_S = 0.15
_LONGEST_S = 1.0
_APART_S = 0.3
_FLOOR_HZ = 0.05
_ABOVE_BACKGROUND = 3.0
_TONAL_SHARE = 0.6
# Found on recordings: of 57 plucked strings (Debian's freepats) 48 are heard, none wrongly; of 8 spoken phrases
# (Debian's alsa-utils) none is taken for a string.
_STEADY = 0.01
_RISES_AGAIN = 1.25
_LOUDEST_BY_S = 0.06
_FALLEN = 0.93


class NoNoteReason(StrEnum):
    """Why a sound is no belt note."""

    SILENCE = "silence"
    TOO_SHORT = "too-short"
    NOT_TONAL = "not-tonal"
    NOT_DYING_AWAY = "not-dying-away"
    UNSTEADY = "unsteady"
    BACKGROUND = "background"


NO_NOTE_WORDS = {
    NoNoteReason.SILENCE: said(
        "Heard nothing that stands out: hold the microphone close to the belt and pluck it once."
    ),
    NoNoteReason.TOO_SHORT: said("Heard a knock, not a note: pluck the belt and let it ring."),
    NoNoteReason.NOT_TONAL: said("Heard noise, not a note: a clap or a knock does this."),
    NoNoteReason.NOT_DYING_AWAY: said(
        "Heard a tone that does not die away as a pluck does: a voice or a fan does this."
    ),
    NoNoteReason.UNSTEADY: said("Heard a tone that changes its pitch: a voice does this."),
    NoNoteReason.BACKGROUND: said(
        "Heard only what sounds all the time (mains hum, a fan): switch it off, or pluck louder."
    ),
}


class BeltNote(Struct, frozen=True, kw_only=True):
    """The note of a belt, the median over its usable plucks."""

    frequency_hz: Estimate
    plucks: int

    @property
    def text(self) -> Said:
        """The note with its uncertainty, and how many plucks it is the median of."""
        hz = said("{hz} ± {u}", hz=Number(self.frequency_hz.value, 1), u=Number(self.frequency_hz.U95, 1, sign="Hz"))
        return said_counted("{hz}, {count} pluck", "{hz}, {count} plucks", count=self.plucks, hz=hz)


class NoNote(Struct, frozen=True, kw_only=True):
    """Nothing usable was heard."""

    reason: NoNoteReason

    @property
    def text(self) -> Said:
        """What was heard instead, and what to do."""
        return NO_NOTE_WORDS[self.reason]


def belt_note(samples: FloatArray, rate_hz: float) -> BeltNote | NoNote:
    """The note of a plucked belt in a recording; `samples` has shape (n,), any scale.

    Several plucks of one belt are averaged, sounds that are no pluck are passed over; if no pluck is left, the reason
    is that of the sound that came nearest to one.
    """
    sound = np.asarray(samples, dtype=np.float64)
    sound = sound - (float(np.mean(sound)) if sound.size else 0.0)
    starts = _onsets(sound, rate_hz)
    notes, failures = [], []
    for index, start in enumerate(starts):
        end = starts[index + 1] if index + 1 < len(starts) else sound.size
        found = _note_of(sound, start, end, rate_hz)
        if isinstance(found, NoNoteReason):
            failures.append(found)
        else:
            notes.append(found)
    if not notes:
        order = list(NoNoteReason)
        return NoNote(reason=max(failures, key=order.index, default=NoNoteReason.SILENCE))
    frequencies = np.array([frequency for frequency, _ in notes])
    middle = float(np.median(frequencies))
    same = np.abs(frequencies / middle - 1.0) < 0.05  # one pluck may have hit the other run of the belt
    kept = frequencies[same]
    spread = float(np.std(kept, ddof=1)) if kept.size > 1 else 0.0
    glide = float(np.max(np.array([drift for _, drift in notes])[same]))
    u_hz = math.sqrt(_FLOOR_HZ**2 + spread**2 / kept.size + (glide / 2.0) ** 2 / 3.0)
    return BeltNote(frequency_hz=Estimate(value=float(np.median(kept)), u=u_hz), plucks=int(kept.size))


def _onsets(sound: FloatArray, rate_hz: float) -> list[int]:
    """Sample numbers at which something starts suddenly, at least 0.3 s apart."""
    frame = max(1, round(_FRAME_S * rate_hz))
    count = sound.size // frame
    if count < 4:
        return []
    level = np.sqrt(np.mean(sound[: count * frame].reshape(count, frame) ** 2, axis=1))
    loudest = float(np.max(level))
    if loudest == 0.0:
        return []
    quiet = max(float(np.quantile(level, 0.1)), 1e-4 * loudest)
    starts: list[int] = []
    for number in range(1, count):
        before = max(float(np.mean(level[max(0, number - 5) : number])), quiet)
        now = float(np.max(level[number : number + 2]))
        sudden = now > _ONSET_RISE * before and now > 0.1 * loudest
        if sudden and (not starts or (number - starts[-1] // frame) * _FRAME_S > _APART_S):
            starts.append(number * frame)
    return starts


def _note_of(sound: FloatArray, start: int, end: int, rate_hz: float) -> tuple[float, float] | NoNoteReason:
    """Frequency and change of frequency of one pluck, in Hz, or why it is none."""
    first = start + round(_ATTACK_S * rate_hz)
    ring = sound[first : min(end, first + round(_LONGEST_S * rate_hz))]
    ring = ring[: _audible(ring, rate_hz)]
    if ring.size < _SHORTEST_S * rate_hz:
        return NoNoteReason.TOO_SHORT
    hz, strength = _spectrum(ring, rate_hz)
    background = sound[max(0, start - ring.size) : start]
    if background.size > 0.1 * rate_hz:
        floor = _spectrum(background, rate_hz, bins=hz.size)[1]
        risen = np.where(strength > _ABOVE_BACKGROUND * floor, strength, 0.0)
    else:
        risen = strength
    if float(np.max(risen)) < 0.3 * float(np.max(strength)):
        return NoNoteReason.BACKGROUND
    fundamental = _fundamental(hz, risen)
    if fundamental is None or _tonal_share(hz, risen, fundamental) < _TONAL_SHARE:
        return NoNoteReason.NOT_TONAL
    half = ring.size // 2
    early, late = (_near(part, rate_hz, fundamental) for part in (ring[:half], ring[half:]))
    if late[1] > _FALLEN * early[1] or not _dies_away(sound[start : first + ring.size], rate_hz, fundamental):
        return NoNoteReason.NOT_DYING_AWAY
    drift = abs(late[0] - early[0])
    if drift > _STEADY * fundamental:
        return NoNoteReason.UNSTEADY
    return _near(ring, rate_hz, fundamental)[0], drift


def _dies_away(pluck: FloatArray, rate_hz: float, fundamental_hz: float) -> bool:
    """Whether the sound is loudest where it starts and falls from there on, beats apart, without rising again."""
    frame = max(1, round(max(2 * _FRAME_S, 2.0 / fundamental_hz) * rate_hz))
    count = pluck.size // frame
    level = np.sqrt(np.mean(pluck[: count * frame].reshape(count, frame) ** 2, axis=1))
    peak = int(np.argmax(level))
    after = level[peak:]
    lowest_yet = np.minimum.accumulate(after)
    return peak * frame <= _LOUDEST_BY_S * rate_hz + frame and bool(np.all(after <= _RISES_AGAIN * lowest_yet))


def _audible(ring: FloatArray, rate_hz: float) -> int:
    """Number of samples until the sound has fallen to a tenth of its level for good."""
    frame = max(1, round(2 * _FRAME_S * rate_hz))
    count = ring.size // frame
    if count == 0:
        return 0
    level = np.sqrt(np.mean(ring[: count * frame].reshape(count, frame) ** 2, axis=1))
    loud = np.nonzero(level > 0.1 * float(np.max(level[:3])))[0]
    return int(loud[-1] + 1) * frame if loud.size else 0


def _spectrum(part: FloatArray, rate_hz: float, bins: int = 0) -> tuple[FloatArray, FloatArray]:
    """Frequencies and amplitudes of a Hann-windowed part, padded fourfold (or to `bins`)."""
    window = np.hanning(part.size)
    length = 2 * (bins - 1) if bins else 4 * part.size - (4 * part.size) % 2
    amplitude = np.abs(np.fft.rfft(part * window, length)) / float(np.sum(window))
    return np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), dtype=np.float64), amplitude


def _fundamental(hz: FloatArray, strength: FloatArray) -> float | None:
    """The lowest strong peak of which the strongest is a multiple."""
    inside = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
    middle = strength[1:-1]
    peaks = np.nonzero((middle > strength[:-2]) & (middle >= strength[2:]) & inside[1:-1])[0] + 1
    if peaks.size == 0:
        return None
    strongest = peaks[int(np.argmax(strength[peaks]))]
    for peak in peaks[strength[peaks] > 0.15 * strength[strongest]]:
        multiple = hz[strongest] / hz[peak]
        if abs(multiple - round(multiple)) < 0.03 * round(multiple):
            return _interpolated(hz, strength, int(peak))
    return _interpolated(hz, strength, int(strongest))


def _interpolated(hz: FloatArray, strength: FloatArray, peak: int) -> float:
    """Frequency of a peak by a parabola through the logarithms of three neighbours."""
    low, top, high = (math.log(max(float(strength[peak + step]), 1e-300)) for step in (-1, 0, 1))
    curve = low - 2.0 * top + high
    shift = 0.5 * (low - high) / curve if curve < 0.0 else 0.0
    return float(hz[peak] + min(max(shift, -0.5), 0.5) * (hz[1] - hz[0]))


def _near(part: FloatArray, rate_hz: float, around_hz: float) -> tuple[float, float]:
    """Frequency and amplitude of the highest peak within 6 % of a frequency."""
    hz, strength = _spectrum(part, rate_hz)
    window = np.nonzero(np.abs(hz - around_hz) <= max(0.06 * around_hz, 2.0 * rate_hz / part.size))[0]
    peak = int(window[int(np.argmax(strength[window]))])
    return _interpolated(hz, strength, min(max(peak, 1), hz.size - 2)), float(strength[peak])


def _tonal_share(hz: FloatArray, strength: FloatArray, fundamental_hz: float) -> float:
    """Share of the energy that sits at the fundamental and its overtones."""
    heard = (hz >= LOWEST_HZ) & (hz <= _OVERTONES_TO_HZ)
    order = np.maximum(np.round(hz / fundamental_hz), 1.0)
    # Belts are stiff: overtones may lie a little high. Half the distance between overtones would be 0.5.
    at_tone = np.abs(hz / fundamental_hz - order) <= 0.12
    energy = strength**2
    total = float(np.sum(energy[heard]))
    return float(np.sum(energy[heard & at_tone])) / total if total else 0.0

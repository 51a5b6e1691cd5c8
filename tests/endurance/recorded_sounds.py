"""How many recorded strings the belt note hears, and whether it takes words for strings.

    apt-get download freepats alsa-utils && for p in *.deb; do dpkg -x $p sounds; done
    PYTHONPATH=. python tests/endurance/recorded_sounds.py sounds

Plucked instruments of Debian's freepats (each sample's own pitch stands in its file) and the spoken phrases of
alsa-utils. The samples are cut and looped for synthesisers, so some no longer die away as the string did.
"""

from __future__ import annotations

import struct
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from core.machine.belt_note import HIGHEST_HZ, LOWEST_HZ, BeltNote, belt_note
from core.machine.sound_file import read_wav

PLUCKED = ("Guitar", "Harp", "Harpsichord", "Acoustic_Bass", "Finger_Bass", "Pick_Bass", "Sitar", "Pizzicato")
UNPLUCKED = ("Overdriven", "Distortion", "Muted", "Fret_Noise", "Harpsichord_noise")
_FILE_HEADER, _SAMPLE_HEADER = 239, 96  # lengths of the patch format's headers, octets


def samples(patch: Path) -> Iterator[tuple[float, float, np.ndarray]]:
    """Pitch in hertz, rate and samples of every recording in a patch file."""
    octets = patch.read_bytes()
    at = _FILE_HEADER
    while at + _SAMPLE_HEADER <= len(octets):
        (size,) = struct.unpack_from("<I", octets, at + 8)
        (rate_hz,) = struct.unpack_from("<H", octets, at + 20)
        (millihertz,) = struct.unpack_from("<I", octets, at + 30)
        modes = octets[at + 55]
        data = octets[at + _SAMPLE_HEADER : at + _SAMPLE_HEADER + size]
        wide, unsigned = bool(modes & 1), bool(modes & 2)
        kind = ("<u2" if unsigned else "<i2") if wide else ("u1" if unsigned else "i1")
        sound = np.frombuffer(data[: len(data) // 2 * 2], dtype=kind).astype(float)
        sound -= (32768.0 if wide else 128.0) if unsigned else 0.0
        yield millihertz / 1000.0, float(rate_hz), sound / float(np.max(np.abs(sound)))
        at += _SAMPLE_HEADER + size


def main() -> None:
    folder = Path(sys.argv[1])
    rng = np.random.default_rng(1)
    heard: Counter[str] = Counter()
    for patch in sorted(folder.rglob("*.pat")):
        if not any(name in patch.name for name in PLUCKED) or any(name in patch.name for name in UNPLUCKED):
            continue
        for pitch_hz, rate_hz, sound in samples(patch):
            if LOWEST_HZ < pitch_hz < 0.97 * HIGHEST_HZ:
                quiet = np.zeros(int(rate_hz / 2))
                whole = np.concatenate([quiet, sound[: int(2 * rate_hz)]])
                note = belt_note(whole + 1e-3 * rng.standard_normal(whole.size), rate_hz)
                if isinstance(note, BeltNote):
                    heard["right" if abs(note.frequency_hz.value / pitch_hz - 1.0) < 0.03 else "wrong"] += 1
                else:
                    heard[f"not heard: {note.reason}"] += 1
    print(f"{sum(heard.values())} plucked strings: {dict(heard)}")
    phrases = [read_wav(file) for file in sorted(folder.rglob("*.wav"))]
    taken = sum(isinstance(belt_note(phrase.samples, phrase.rate_hz), BeltNote) for phrase in phrases)
    print(f"{len(phrases)} recorded phrases and noises: {taken} taken for a string")


if __name__ == "__main__":
    main()

"""Belt notes by string physics: synthesised plucks, and the sounds of a workshop that are none."""

from __future__ import annotations

import io
import math
import wave
from pathlib import Path

import numpy as np
import pytest

from core.errors import BadInputError
from core.machine.belt_note import BeltNote, NoNote, NoNoteReason, belt_note
from core.machine.sound_file import read_wav

RATE_HZ = 16000
QUIET_S = 0.5


def pluck(
    f_hz: float, *, seconds: float = 1.6, ring_s: float = 0.35, at: float = 0.28, stiffness: float = 1e-4
) -> np.ndarray:
    """A plucked stiff string after half a second of quiet: overtones sin(n pi at)/n², dying faster the higher."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    sound = np.zeros_like(t)
    for n in range(1, 13):
        tone_hz = n * f_hz * math.sqrt(1.0 + stiffness * n * n)
        sound += math.sin(math.pi * n * at) / n**2 * np.sin(2 * np.pi * tone_hz * t) * np.exp(-t / ring_s * n**0.6)
    return np.concatenate([np.zeros(int(QUIET_S * RATE_HZ)), sound])


def noise(size: int, level: float, seed: int = 1) -> np.ndarray:
    return level * np.random.default_rng(seed).standard_normal(size)


def hum(size: int, mains_hz: float, level: float) -> np.ndarray:
    t = np.arange(size) / RATE_HZ
    return level * sum(np.sin(2 * np.pi * mains_hz * n * t + n) / n for n in (1, 2, 3, 4, 6))


def clap(seed: int = 2) -> np.ndarray:
    """A clap in a workshop: a click of noise and the room's answer over 150 ms."""
    t = np.arange(RATE_HZ) / RATE_HZ
    burst = np.random.default_rng(seed).standard_normal(RATE_HZ) * (np.exp(-t / 0.008) + 0.15 * np.exp(-t / 0.15))
    return np.concatenate([np.zeros(RATE_HZ // 2), burst])


def speech(seed: int = 3) -> np.ndarray:
    """Voiced syllables: pulses at a gliding pitch through three formants, swelling and fading."""
    rng = np.random.default_rng(seed)
    t = np.arange(2 * RATE_HZ) / RATE_HZ
    pitch = 120.0 + 18.0 * np.sin(2 * np.pi * 1.3 * t + rng.uniform(0, 6)) + 6.0 * np.sin(2 * np.pi * 3.1 * t)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE_HZ
    sound = np.zeros_like(t)
    for n in range(1, 25):
        weight = sum(math.exp(-(((n * 120.0) - formant) ** 2) / 2 / 150.0**2) for formant in (300.0, 900.0, 2300.0))
        sound += (weight + 0.02) * np.sin(n * phase)
    syllables = np.clip(np.sin(2 * np.pi * 2.2 * t), 0.0, 1.0) ** 0.3
    return np.concatenate([np.zeros(RATE_HZ // 2), sound * syllables])


@pytest.mark.parametrize("f_hz", [28.0, 41.3, 61.73, 87.9, 110.2, 163.7, 240.5, 330.1])
@pytest.mark.parametrize("at", [0.12, 0.28, 0.5])
def test_a_pluck_is_heard_within_its_uncertainty(f_hz: float, at: float) -> None:
    sound = pluck(f_hz, at=at)
    note = belt_note(sound + noise(sound.size, 0.002), RATE_HZ)
    assert isinstance(note, BeltNote)
    assert note.frequency_hz.value == pytest.approx(f_hz, rel=0.003)
    assert abs(note.frequency_hz.value - f_hz * math.sqrt(1 + 1e-4)) <= max(3.0 * note.frequency_hz.u, 0.1)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_does_not_hide_a_pluck(mains_hz: float) -> None:
    sound = pluck(83.0)
    note = belt_note(sound + hum(sound.size, mains_hz, 0.03) + noise(sound.size, 0.002), RATE_HZ)
    assert isinstance(note, BeltNote)
    assert note.frequency_hz.value == pytest.approx(83.0, rel=0.004)


def test_three_plucks_are_averaged_and_a_clap_between_them_passed_over() -> None:
    sound = np.concatenate([pluck(83.0), clap(), pluck(83.2), pluck(83.1)])
    note = belt_note(sound + noise(sound.size, 0.002), RATE_HZ)
    assert isinstance(note, BeltNote)
    assert note.plucks == 3
    assert note.frequency_hz.value == pytest.approx(83.1, abs=0.1)


@pytest.mark.parametrize("seed", range(12))
def test_a_clap_is_no_note(seed: int) -> None:
    sound = clap(seed)
    assert isinstance(belt_note(sound + noise(sound.size, 0.002, seed), RATE_HZ), NoNote)


@pytest.mark.parametrize("seed", range(12))
def test_speech_is_no_note(seed: int) -> None:
    sound = speech(seed)
    assert isinstance(belt_note(sound + noise(sound.size, 0.002, seed), RATE_HZ), NoNote)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_alone_is_no_note(mains_hz: float) -> None:
    heard = belt_note(hum(2 * RATE_HZ, mains_hz, 0.3) + noise(2 * RATE_HZ, 0.01), RATE_HZ)
    assert isinstance(heard, NoNote)
    assert heard.reason is NoNoteReason.SILENCE
    assert "Heard nothing" in str(heard.text)


def test_a_fan_that_is_switched_on_does_not_die_away() -> None:
    t = np.arange(RATE_HZ) / RATE_HZ
    sound = np.concatenate([np.zeros(RATE_HZ // 2), np.sin(2 * np.pi * 91.0 * t)])
    heard = belt_note(sound + noise(sound.size, 0.005), RATE_HZ)
    assert isinstance(heard, NoNote)
    assert heard.reason is NoNoteReason.NOT_DYING_AWAY


@pytest.mark.parametrize("sound", [np.zeros(0), np.zeros(RATE_HZ), np.ones(RATE_HZ), noise(RATE_HZ, 0.1)])
def test_nothing_is_heard_in_nothing(sound: np.ndarray) -> None:
    assert isinstance(belt_note(sound, RATE_HZ), NoNote)


def wav(samples: np.ndarray, *, channels: int = 1, width: int = 2) -> io.BytesIO:
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(width)
        out.setframerate(RATE_HZ)
        full = (1 << (8 * width - 1)) - 1
        whole = np.round(np.clip(samples, -1, 1) * full).astype(np.int64) + (128 if width == 1 else 0)
        octets = b"".join(int(v).to_bytes(width, "little", signed=width > 1) for v in np.repeat(whole, channels))
        out.writeframes(octets)
    file.seek(0)
    return file


@pytest.mark.parametrize("width", [1, 2, 3, 4])
@pytest.mark.parametrize("channels", [1, 2])
def test_wav_files_of_every_width(width: int, channels: int) -> None:
    sound = 0.8 * pluck(83.0, seconds=0.8)
    recording = read_wav(wav(sound, channels=channels, width=width))
    assert recording.rate_hz == RATE_HZ
    assert np.max(np.abs(recording.samples - sound)) < 2.0 ** (2 - 8 * width)
    note = belt_note(recording.samples, recording.rate_hz)
    assert isinstance(note, BeltNote)
    assert note.frequency_hz.value == pytest.approx(83.0, rel=0.004)


def test_what_is_no_wav_file_is_said() -> None:
    with pytest.raises(BadInputError, match="not a plain WAV"):
        read_wav(io.BytesIO(b"ID3 some other sound file"))
    with pytest.raises(BadInputError, match="not a plain WAV"):
        read_wav(io.BytesIO(b""))
    with pytest.raises(BadInputError, match="No such file"):
        read_wav(Path("missing.wav"))
